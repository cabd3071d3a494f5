//! Colours, dash patterns and weights of the figures.
//!
//! Every role has its own colour in the SVG; the page's style sheet finds
//! elements by it, adds the dash pattern and, in the dark, another colour. Roles
//! that meet in one figure differ in dash and weight as well, and their blues
//! and oranges stay apart for the colour-blind.

use plotters::style::RGBColor;
use std::fmt::Write;

/// What a line, dot or area stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Role {
    Text,
    Axis,
    Grid,
    FineGrid,
    Floor,
    Passive,
    /// The passive seat alone in a panel: no dashes needed.
    PassiveAlone,
    Law,
    Truth,
    Estimate,
    Limit,
    Stop,
    Mark,
    Shade,
    Fault,
}

struct Look {
    role: Role,
    light: (u8, u8, u8),
    dark: (u8, u8, u8),
    /// Pattern in hundredths of the figure's pixels; empty for a full line.
    dash: &'static str,
}

const LOOKS: [Look; 15] = [
    look(Role::Text, (0x1C, 0x25, 0x30), (0xE2, 0xE7, 0xEC), ""),
    look(Role::Axis, (0x5B, 0x67, 0x74), (0x93, 0x9F, 0xAB), ""),
    look(Role::Grid, (0xDF, 0xE4, 0xE8), (0x33, 0x3C, 0x46), ""),
    look(Role::FineGrid, (0xEF, 0xF2, 0xF4), (0x1F, 0x26, 0x2D), ""),
    look(Role::Floor, (0x76, 0x7E, 0x88), (0x9A, 0xA4, 0xAF), ""),
    look(
        Role::Passive,
        (0xB8, 0x54, 0x0C),
        (0xF0, 0x9C, 0x54),
        "28 14",
    ),
    look(
        Role::PassiveAlone,
        (0xB8, 0x55, 0x0C),
        (0xF0, 0x9C, 0x54),
        "",
    ),
    look(Role::Law, (0x07, 0x67, 0x8A), (0x58, 0xC2, 0xE6), ""),
    look(Role::Truth, (0x86, 0x91, 0x9D), (0x6E, 0x7B, 0x88), ""),
    look(Role::Estimate, (0x5A, 0x2A, 0x87), (0xCB, 0xA6, 0xF4), ""),
    look(Role::Limit, (0x9A, 0x1B, 0x3F), (0xFF, 0x8F, 0xA6), "8 10"),
    look(Role::Stop, (0x22, 0x22, 0x26), (0xF4, 0xF4, 0xF2), ""),
    look(
        Role::Mark,
        (0x4A, 0x5A, 0x28),
        (0xBB, 0xD0, 0x7E),
        "18 8 4 8",
    ),
    look(Role::Shade, (0xC4, 0xCF, 0xD9), (0x45, 0x52, 0x5F), ""),
    look(Role::Fault, (0xA6, 0x1E, 0x1E), (0xFF, 0x86, 0x80), ""),
];

const fn look(role: Role, light: (u8, u8, u8), dark: (u8, u8, u8), dash: &'static str) -> Look {
    Look {
        role,
        light,
        dark,
        dash,
    }
}

impl Role {
    /// Colour in the SVG.
    pub(super) fn colour(self) -> RGBColor {
        let (r, g, b) = LOOKS[self as usize].light;
        RGBColor(r, g, b)
    }
}

/// Style rules for the dash patterns and for the dark.
pub(super) fn style_rules() -> String {
    let hex = |(r, g, b): (u8, u8, u8)| format!("#{r:02X}{g:02X}{b:02X}");
    let mut dashes = String::new();
    let mut dark = String::new();
    for look in &LOOKS {
        debug_assert_eq!(LOOKS[look.role as usize].role, look.role);
        let light = hex(look.light);
        if !look.dash.is_empty() {
            // Writing to a String cannot fail.
            let _ = writeln!(
                dashes,
                "svg polyline[stroke=\"{light}\"]{{stroke-dasharray:{}}}",
                look.dash
            );
        }
        let shade = hex(look.dark);
        let _ = writeln!(
            dark,
            "svg [stroke=\"{light}\"]{{stroke:{shade}}} svg [fill=\"{light}\"]{{fill:{shade}}}"
        );
    }
    format!("{dashes}@media screen and (prefers-color-scheme:dark){{\n{dark}}}\n")
}
