//! Modes of the seat: what they reach, how softly, and with what lost.

mod events;
mod faults;
mod heat;
mod lost;
mod reach;
mod soft;
