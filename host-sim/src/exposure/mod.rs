//! Whole-body-vibration exposure in the terms of ISO 2631-1 and ISO 2631-5.
