//! The register of limits: every limit of the system, once, in `limits.toml`.
//!
//! | file | purpose |
//! |---|---|
//! | `register` | what the file holds: limits, and the numbers that are none |
//! | `reader` | its fields, checked one by one |
//! | `evidence` | whether each limit is enforced and demonstrated; also run by the build script, which fails |
//! | [`constant`] | every limit as a constant, made by the build script |
//! | `resolve` | values of a rig that name a limit, `"@id"`; the register as it is for a rig; every number that the firmware is given |
//! | `sources` | digest of the sources that this program is made from |
//! | `page` | the register as a page of the documentation |

pub mod evidence;
pub mod page;
mod reader;
pub mod register;
mod resolve;
pub mod sources;

pub use register::{Limit, NoLimit, Refusal, Register, Sense};
pub use resolve::{numbers, of_rig, resolve};

/// Every limit by its id in capitals. Made from the register; an id that is gone no longer compiles.
pub mod constant {
    include!(concat!(env!("OUT_DIR"), "/limits.rs"));
}

/// The invented machine floors, each with the limits of its SEAT value (1) at levels 1 and 2.5.
pub const SEAT_VALUES: [(&str, f64, f64); 6] = [
    (
        "hauler",
        constant::SEAT_VALUE_HAULER_1,
        constant::SEAT_VALUE_HAULER_2_5,
    ),
    (
        "loader",
        constant::SEAT_VALUE_LOADER_1,
        constant::SEAT_VALUE_LOADER_2_5,
    ),
    (
        "grader",
        constant::SEAT_VALUE_GRADER_1,
        constant::SEAT_VALUE_GRADER_2_5,
    ),
    (
        "compact",
        constant::SEAT_VALUE_COMPACT_1,
        constant::SEAT_VALUE_COMPACT_2_5,
    ),
    (
        "crawler",
        constant::SEAT_VALUE_CRAWLER_1,
        constant::SEAT_VALUE_CRAWLER_2_5,
    ),
    (
        "ballast",
        constant::SEAT_VALUE_BALLAST_1,
        constant::SEAT_VALUE_BALLAST_2_5,
    ),
];

/// Name of the register's file in errors.
pub const FILE: &str = "host-sim/limits.toml";

/// The register's text.
pub const TEXT: &str = include_str!("../../limits.toml");

/// The register of this build. The build script has read the same text and found nothing wrong with it; if that were not
/// so, every use of a limit would be refused by name.
#[must_use]
pub fn register() -> Register {
    Register::read(TEXT, FILE).unwrap_or_else(|_| Register {
        file: FILE.to_owned(),
        limits: Vec::new(),
        no_limits: Vec::new(),
    })
}
