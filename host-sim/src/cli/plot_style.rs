//! What the pictures of several commands have in common.

use super::Failure;
use plotters::prelude::*;

/// Blue: the law, and what is proved.
pub(super) const BLUE: RGBColor = RGBColor(0x0b, 0x5c, 0x8c);
/// Orange: the passive seat, and what falls short.
pub(super) const ORANGE: RGBColor = RGBColor(0xb0, 0x4a, 0x12);
/// Numbers at the axes, and the legend.
pub(super) const SMALL: (&str, i32) = ("sans-serif", 15);
/// What the axes show.
pub(super) const AXIS: (&str, i32) = ("sans-serif", 16);

/// The SVG text that `draw` writes; `file` names it in an error.
pub(super) fn svg(
    file: &str,
    draw: impl FnOnce(&mut String) -> Result<(), Box<dyn std::error::Error>>,
) -> Result<String, Failure> {
    let mut text = String::new();
    draw(&mut text).map_err(|error| format!("{file}: {error}"))?;
    Ok(text)
}

/// A short piece of a line, in front of its name in the legend.
pub(super) fn legend_line(style: ShapeStyle) -> impl Fn((i32, i32)) -> PathElement<(i32, i32)> {
    move |(x, y)| PathElement::new([(x, y), (x + 24, y)], style)
}
