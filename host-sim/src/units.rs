//! A number beside its unit, the same way in every table, error and page.

use std::fmt::Display;

/// A number beside its unit as the registers write it (`m/s2`, `degC`). What has none (`1`), a share and a count stand alone.
#[must_use]
pub fn beside(number: impl Display, unit: &str) -> String {
    match unit {
        "" | "1" | "share" | "count" => number.to_string(),
        unit => format!("{number} {unit}"),
    }
}
