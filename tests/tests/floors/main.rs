//! Floors: spectra, signals, filters and recordings against scipy and the standards' formulas.

mod bad_csv;
mod filters;
mod options;
mod recordings;
mod roads;
mod signals;
mod spectra;
mod welch;
