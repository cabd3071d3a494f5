//! Exposure after ISO 2631-1, ISO 2631-5 and the directive: tables, annexes, closed forms.

mod daily;
mod meter;
mod sections;
mod spine;
mod weighting;
