//! What a core may use, from a committed file; and the limits that the file may never exceed.

use super::figures::ImageFigures;
use crate::cores::BoardKind;
use crate::limits::constant;
use crate::toml_file::{self, TomlError, find_field};
use serde::Deserialize;
use std::fmt;
use std::path::{Path, PathBuf};

impl BoardKind {
    /// What no budget may exceed: the design's own limits. The Cortex-M3 has no limit of the ratio.
    #[must_use]
    pub const fn limits(self) -> Budget {
        let (instructions_max, instructions_ratio) = match self {
            Self::M4f | Self::M7 => (
                constant::FPU_INSTRUCTIONS as u32,
                constant::FPU_INSTRUCTION_RATIO,
            ),
            Self::M3 => (constant::M3_INSTRUCTIONS as u32, f64::MAX),
        };
        Budget {
            instructions_max,
            instructions_ratio,
            stack_bytes: constant::STACK as u32,
            stack_bytes_static: constant::STACK_STATIC as u32,
            ram_bytes: constant::RAM as u32,
            flash_bytes: constant::FLASH as u32,
            recorder_instructions_max: constant::RECORDER_INSTRUCTIONS as u32,
            recorder_bytes: constant::RECORDER_RAM as u32,
        }
    }
}

impl fmt::Display for BoardKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

/// What one core may use at most.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Budget {
    /// Instructions of one active step.
    pub instructions_max: u32,
    /// The most instructions of an active step over the fewest.
    pub instructions_ratio: f64,
    /// Stack of a step as measured on the running core, bytes.
    pub stack_bytes: u32,
    /// Stack of a step as the image shows it, bytes.
    pub stack_bytes_static: u32,
    /// Static RAM of the port without the flight recorder, bytes.
    pub ram_bytes: u32,
    /// Flash of the port, bytes.
    pub flash_bytes: u32,
    /// Instructions of the flight recorder in one period.
    pub recorder_instructions_max: u32,
    /// Static RAM of the flight recorder, bytes.
    pub recorder_bytes: u32,
}

impl Budget {
    /// Names of the fields, with their values.
    #[must_use]
    pub fn fields(&self) -> [(&'static str, f64); 8] {
        [
            ("instructions_max", f64::from(self.instructions_max)),
            ("instructions_ratio", self.instructions_ratio),
            ("stack_bytes", f64::from(self.stack_bytes)),
            ("stack_bytes_static", f64::from(self.stack_bytes_static)),
            ("ram_bytes", f64::from(self.ram_bytes)),
            ("flash_bytes", f64::from(self.flash_bytes)),
            (
                "recorder_instructions_max",
                f64::from(self.recorder_instructions_max),
            ),
            ("recorder_bytes", f64::from(self.recorder_bytes)),
        ]
    }
}

/// What was measured on one core.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measured {
    /// The core.
    pub core: BoardKind,
    /// Most instructions of an active step.
    pub instructions_max: u32,
    /// Fewest instructions of an active step.
    pub instructions_min: u32,
    /// Stack of a step on the running core, bytes.
    pub stack_bytes: u32,
    /// Stack of a step as the image shows it, bytes; `None` when it has no bound.
    pub stack_bytes_static: Option<u32>,
    /// Static RAM of the port without the flight recorder, bytes.
    pub ram_bytes: u32,
    /// Flash of the port, bytes.
    pub flash_bytes: u32,
    /// Most instructions of the flight recorder in one period.
    pub recorder_instructions_max: u32,
    /// Static RAM of the flight recorder, bytes.
    pub recorder_bytes: u32,
}

impl Measured {
    /// Puts together what the running core and what its images say.
    /// `instructions` is fewest and most of a step, `recorder` the most of the flight recorder.
    #[must_use]
    pub fn new(
        core: BoardKind,
        instructions: (u32, u32),
        recorder: u32,
        stack_bytes: u32,
        image: &ImageFigures,
    ) -> Self {
        Self {
            core,
            instructions_max: instructions.1,
            instructions_min: instructions.0,
            stack_bytes,
            stack_bytes_static: image.stack_bound(),
            ram_bytes: image.ram_bytes,
            flash_bytes: image.flash_bytes,
            recorder_instructions_max: recorder,
            recorder_bytes: image.recorder_bytes,
        }
    }

    /// Names of the budget's fields, with what was measured; infinite when it has no bound.
    #[must_use]
    pub fn fields(&self) -> [(&'static str, f64); 8] {
        let ratio = if self.instructions_min == 0 {
            f64::INFINITY
        } else {
            f64::from(self.instructions_max) / f64::from(self.instructions_min)
        };
        let stack_static = self.stack_bytes_static.map_or(f64::INFINITY, f64::from);
        [
            ("instructions_max", f64::from(self.instructions_max)),
            ("instructions_ratio", ratio),
            ("stack_bytes", f64::from(self.stack_bytes)),
            ("stack_bytes_static", stack_static),
            ("ram_bytes", f64::from(self.ram_bytes)),
            ("flash_bytes", f64::from(self.flash_bytes)),
            (
                "recorder_instructions_max",
                f64::from(self.recorder_instructions_max),
            ),
            ("recorder_bytes", f64::from(self.recorder_bytes)),
        ]
    }
}

/// A budget that is exceeded.
#[derive(Clone, Debug, PartialEq)]
pub struct Exceeded {
    /// `core.field`.
    pub what: String,
    /// What was measured; infinite when it has no bound.
    pub measured: f64,
    /// What the file allows.
    pub budget: f64,
}

impl fmt::Display for Exceeded {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self {
            what,
            measured,
            budget,
        } = self;
        if measured.is_finite() {
            let digits = if what.ends_with("ratio") { 4 } else { 0 };
            write!(
                f,
                "{what}: {measured:.digits$} exceeds the budget of {budget}"
            )
        } else {
            write!(f, "{what}: no bound, the budget is {budget}")
        }
    }
}

/// Why budgets cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum BudgetError {
    /// The file, or a budget in it that the design does not allow.
    #[error(transparent)]
    File(#[from] TomlError),
    /// A measurement beyond what any budget may allow.
    #[error("{field}: {measured} measured: expected at most {limit}, which no budget may exceed")]
    BeyondLimit {
        /// `core.field`.
        field: String,
        /// What was measured; infinite when it has no bound.
        measured: f64,
        /// The limit.
        limit: f64,
    },
}

#[derive(Clone, Copy, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Tables {
    m4f: Budget,
    m7: Budget,
    m3: Budget,
}

/// Budgets of all cores.
#[derive(Clone, Debug)]
pub struct Budgets {
    pub(super) text: String,
    pub(super) path: PathBuf,
    tables: Tables,
}

impl Budgets {
    /// Reads a file of budgets.
    ///
    /// # Errors
    /// Unreadable file, TOML that is no budgets, or a budget beyond the design's limits.
    pub fn read(path: &Path) -> Result<Self, BudgetError> {
        let expected = "budgets in TOML, a table for each of m4f, m7, m3";
        let text = toml_file::read(path, expected)?;
        Self::from_toml(text, path)
    }

    /// Reads budgets from text; `path` names it in errors.
    ///
    /// # Errors
    /// TOML that is no budgets, or a budget beyond the design's limits.
    pub fn from_toml(text: String, path: &Path) -> Result<Self, BudgetError> {
        let tables = toml_file::parse(&text, path)?;
        let budgets = Self {
            text,
            path: path.to_owned(),
            tables,
        };
        for core in BoardKind::ALL {
            let limits = core.limits().fields();
            for ((name, value), (_, limit)) in budgets.of(core).fields().into_iter().zip(limits) {
                let least = if name == "instructions_ratio" {
                    1.0
                } else {
                    0.0
                };
                // Not a number is neither.
                if !(value >= least && value <= limit) {
                    let field = format!("{core}.{name}");
                    return Err(TomlError::Value {
                        place: find_field(path, &budgets.text, &field),
                        field,
                        value,
                        expected: if limit == f64::MAX {
                            format!("a finite number of {least} or more")
                        } else {
                            format!("{least} to {limit}, the design's own limit")
                        },
                    }
                    .into());
                }
            }
        }
        Ok(budgets)
    }

    /// The budget of a core.
    #[must_use]
    pub const fn of(&self, core: BoardKind) -> &Budget {
        match core {
            BoardKind::M4f => &self.tables.m4f,
            BoardKind::M7 => &self.tables.m7,
            BoardKind::M3 => &self.tables.m3,
        }
    }

    /// Every budget that a measurement exceeds; none when all is well.
    #[must_use]
    pub fn check(&self, measured: &Measured) -> Vec<Exceeded> {
        let budgets = self.of(measured.core).fields();
        let pairs = measured.fields().into_iter().zip(budgets);
        pairs
            .filter(|((_, measured), (_, budget))| measured > budget)
            .map(|((name, value), (_, budget))| Exceeded {
                what: format!("{}.{name}", measured.core),
                measured: value,
                budget,
            })
            .collect()
    }
}
