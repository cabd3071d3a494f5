//! The file of budgets rewritten from measurements.

use super::budgets::{BudgetError, Budgets, Measured};
use crate::cores::BoardKind;
use crate::toml_file::{TomlError, find_field};

/// A measurement with its margin, at most the limit. One percent on whole numbers, then up to the next ten
/// instructions or the next 16 bytes; 0.005 on the ratio, then up to the next thousandth.
fn with_margin(name: &str, measured: f64, limit: f64) -> f64 {
    let up = |value: f64, unit: f64| (value / unit).ceil() * unit;
    let budget = match name {
        "instructions_ratio" => ((measured + 0.005) * 1000.0).ceil() / 1000.0,
        "instructions_max" | "recorder_instructions_max" => up(measured * 1.01, 10.0),
        _ => up(measured * 1.01, 16.0),
    };
    budget.min(limit)
}

/// Whether a budget is the design's limit itself, whatever is measured: the instructions of the M4F and the M7,
/// so that a law that grows within its design needs no new budget.
fn is_the_limit(core: BoardKind, name: &str) -> bool {
    name == "instructions_max" && matches!(core, BoardKind::M4f | BoardKind::M7)
}

fn written(name: &str, value: f64) -> String {
    if name == "instructions_ratio" {
        format!("{value:.3}")
    } else {
        format!("{value:.0}")
    }
}

/// The line with another value; its indent, its key and its comment stay.
fn with_value(line: &str, value: &str) -> String {
    let Some((key, rest)) = line.split_once('=') else {
        return line.to_owned();
    };
    let comment = rest.find('#').map_or("", |at| {
        let before = rest[..at].trim_end().len();
        &rest[before..]
    });
    format!("{key}= {value}{comment}")
}

impl Budgets {
    /// The file's text with new budgets for the cores that were measured: the measurements, rounded up by a
    /// small margin (1 % and up to ten instructions or 16 bytes; 0.005 on the ratio), never beyond the
    /// design's limits. The instructions of the M4F and the M7 are the limit itself. Comments, order and the
    /// other cores stay.
    ///
    /// # Errors
    /// A measurement beyond the design's limits, or a field that does not stand on a line of its own.
    pub fn reset(&self, measured: &[Measured]) -> Result<String, BudgetError> {
        let mut lines: Vec<String> = self.text.lines().map(str::to_owned).collect();
        for measured in measured {
            let core = measured.core;
            let limits = core.limits().fields();
            for ((name, value), (_, limit)) in measured.fields().into_iter().zip(limits) {
                let field = format!("{core}.{name}");
                if value > limit {
                    return Err(BudgetError::BeyondLimit {
                        field,
                        measured: value,
                        limit,
                    });
                }
                let place = find_field(&self.path, &self.text, &field);
                let line = place.line.checked_sub(1).and_then(|i| lines.get_mut(i));
                let Some(line) = line else {
                    return Err(TomlError::Syntax {
                        place,
                        field: Some(field),
                        message: "expected it on a line of its own, below the header of its table"
                            .to_owned(),
                    }
                    .into());
                };
                let budget = if is_the_limit(core, name) {
                    limit
                } else {
                    with_margin(name, value, limit)
                };
                *line = with_value(line, &written(name, budget));
            }
        }
        let mut text = lines.join("\n");
        text.push('\n');
        Ok(text)
    }
}
