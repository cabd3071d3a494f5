//! The report `faults.html`.
