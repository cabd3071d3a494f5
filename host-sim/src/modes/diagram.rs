//! The modes as a picture: boxes in fixed places, arrows for the changes that were found.
//!
//! A change that all driving modes share, to the same mode, is one arrow from their frame.

use super::proof::Proof;
use firmware::Mode;
use std::collections::BTreeMap;
use std::fmt::Write;

/// Half width and half height of a box.
const HALF: (f64, f64) = (56.0, 23.0);

/// Frame of the driving modes: left, top, right, bottom.
const FRAME: (f64, f64, f64, f64) = (390.0, 24.0, 1040.0, 330.0);

const STYLE: &str = "\
.page{fill:#ffffff}.frame{fill:#eef4fb;stroke:#7a8ea5;stroke-dasharray:5 4}\
.box{fill:#ffffff;stroke:#33475b;stroke-width:1.5}.drives{fill:#d6e8fa}.damps{fill:#fbe3d0}\
.line{fill:none;stroke:#33475b;stroke-width:1.4}.head{fill:#33475b}\
text{font-family:system-ui,sans-serif;font-size:14px;fill:#1c2733;text-anchor:middle}\
.name{font-weight:600}.number{font-size:12px}.dot{fill:#ffffff;stroke:#33475b}\
.note{text-anchor:start;font-size:12px}\
@media (prefers-color-scheme:dark){.page{fill:#14191f}.frame{fill:#1b2530;stroke:#6f8296}\
.box{fill:#232d38;stroke:#b8c7d6}.drives{fill:#1f4668}.damps{fill:#663a1c}.line{stroke:#b8c7d6}.head{fill:#b8c7d6}\
text{fill:#e8eef4}.dot{fill:#14191f;stroke:#b8c7d6}}";

/// Middle of a mode's box. Active, Derated, Beyond and Settle all lead to each other: Derated stands within the
/// triangle of the others, so that none of these arrows cross.
fn place(mode: Mode) -> (f64, f64) {
    match mode {
        Mode::Off => (90.0, 90.0),
        Mode::Passive => (280.0, 90.0),
        Mode::Rise => (470.0, 90.0),
        Mode::Active => (715.0, 90.0),
        Mode::Derated => (715.0, 205.0),
        Mode::Beyond => (960.0, 280.0),
        Mode::Settle => (470.0, 280.0),
        Mode::Damped => (280.0, 460.0),
        Mode::Fault => (90.0, 460.0),
    }
}

/// Where a line that starts `aside` of the middle of a mode's box and runs along `way` leaves the box.
fn edge(middle: (f64, f64), aside: (f64, f64), way: (f64, f64)) -> (f64, f64) {
    let reach = |half: f64, off: f64, along: f64| {
        if along.abs() < 1e-9 {
            f64::INFINITY
        } else {
            (half * along.signum() - off) / along
        }
    };
    let far = reach(HALF.0, aside.0, way.0).min(reach(HALF.1, aside.1, way.1));
    (
        middle.0 + aside.0 + far * way.0,
        middle.1 + aside.1 + far * way.1,
    )
}

/// An arrow with its number at the share `at` of its length.
fn arrow(svg: &mut String, from: (f64, f64), to: (f64, f64), number: usize, at: f64) {
    let (dx, dy) = (to.0 - from.0, to.1 - from.1);
    let length = dx.hypot(dy).max(1e-9);
    let (ux, uy) = (dx / length, dy / length);
    let foot = (to.0 - 10.0 * ux, to.1 - 10.0 * uy);
    let (x, y) = (from.0 + at * dx, from.1 + at * dy);
    let _ = writeln!(
        svg,
        "<path class=\"line\" d=\"M{:.1} {:.1}L{:.1} {:.1}\"/>\
         <path class=\"head\" d=\"M{:.1} {:.1}L{:.1} {:.1}L{:.1} {:.1}Z\"/>\
         <circle class=\"dot\" cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"9.5\"/>\
         <text class=\"number\" x=\"{x:.1}\" y=\"{:.1}\">{number}</text>",
        from.0,
        from.1,
        foot.0,
        foot.1,
        to.0,
        to.1,
        foot.0 - 4.5 * uy,
        foot.1 + 4.5 * ux,
        foot.0 + 4.5 * uy,
        foot.1 - 4.5 * ux,
        y + 4.2
    );
}

/// The picture.
#[must_use]
pub fn svg(proof: &Proof) -> String {
    let mode = |name: &str| {
        (0..=8)
            .filter_map(Mode::from_code)
            .find(|mode| mode.name() == name)
            .unwrap_or_default()
    };
    let changes: Vec<(Mode, Mode, String)> = proof
        .changes
        .iter()
        .map(|row| (mode(row.from), mode(row.to), row.guards.join("; or ")))
        .collect();
    let driving = (0..=8)
        .filter_map(Mode::from_code)
        .filter(|m| m.drives())
        .count();
    let mut shared: BTreeMap<(Mode, &str), usize> = BTreeMap::new();
    for (from, to, guard) in &changes {
        if from.drives() && !to.drives() {
            *shared.entry((*to, guard)).or_default() += 1;
        }
    }
    shared.retain(|_, count| *count == driving);

    let mut arrows = String::new();
    let mut notes: Vec<String> = Vec::new();
    for (to, guard) in shared.keys() {
        notes.push(format!("any driving mode to {}: {guard}", to.name()));
        let goal = place(*to);
        let middle = (0.5 * (FRAME.0 + FRAME.2), 0.5 * (FRAME.1 + FRAME.3));
        // Fault lies beyond Damped: from the frame's lower edge, around below it.
        let start = (middle.0 + 60.0 * notes.len() as f64 - 120.0, FRAME.3);
        if *to == Mode::Fault {
            let low = goal.1 + 66.0;
            let _ = writeln!(
                arrows,
                "<path class=\"line\" d=\"M{:.1} {:.1}L{:.1} {low:.1}L{:.1} {low:.1}\"/>",
                start.0, start.1, start.0, goal.0
            );
            arrow(
                &mut arrows,
                (goal.0, low),
                (goal.0, goal.1 + HALF.1),
                notes.len(),
                0.45,
            );
        } else {
            let _ = writeln!(
                arrows,
                "<path class=\"line\" d=\"M{:.1} {:.1}L{:.1} {:.1}\"/>",
                start.0, start.1, start.0, goal.1
            );
            arrow(
                &mut arrows,
                (start.0, goal.1),
                (goal.0 + HALF.0, goal.1),
                notes.len(),
                0.5,
            );
        }
    }
    for (from, to, guard) in &changes {
        if shared.contains_key(&(*to, guard.as_str())) && from.drives() {
            continue;
        }
        notes.push(format!("{} to {}: {guard}", from.name(), to.name()));
        let (a, b) = (place(*from), place(*to));
        let both = changes.iter().any(|(x, y, _)| (x, y) == (to, from));
        // Opposite arrows run side by side.
        let length = (b.0 - a.0).hypot(b.1 - a.1);
        let aside = if both { 8.0 } else { 0.0 };
        let (ox, oy) = (-(b.1 - a.1) / length * aside, (b.0 - a.0) / length * aside);
        let way = (b.0 - a.0, b.1 - a.1);
        arrow(
            &mut arrows,
            edge(a, (ox, oy), way),
            edge(b, (ox, oy), (-way.0, -way.1)),
            notes.len(),
            if both { 0.36 } else { 0.42 },
        );
    }

    let top = 560.0;
    let height = top + 18.0 * notes.len() as f64 + 8.0;
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 1070 {height}\" role=\"img\">\
         <title>Modes of the seat</title><style>{STYLE}</style>\n\
         <rect class=\"page\" width=\"1070\" height=\"{height}\"/>\n\
         <rect class=\"frame\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" rx=\"10\"/>\
         <text class=\"note\" x=\"{}\" y=\"{}\">driving modes</text>\n",
        FRAME.0,
        FRAME.1,
        FRAME.2 - FRAME.0,
        FRAME.3 - FRAME.1,
        FRAME.0 + 12.0,
        FRAME.1 + 20.0
    );
    svg += &arrows;
    for mode in (0..=8).filter_map(Mode::from_code) {
        let (x, y) = place(mode);
        let kind = match (mode.drives(), mode.damps()) {
            (true, _) => " drives",
            (_, true) => " damps",
            _ => "",
        };
        let _ = writeln!(
            svg,
            "<rect class=\"box{kind}\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" rx=\"6\"/>\
             <text class=\"name\" x=\"{x}\" y=\"{}\">{}</text>",
            x - HALF.0,
            y - HALF.1,
            2.0 * HALF.0,
            2.0 * HALF.1,
            y + 5.0,
            mode.name()
        );
    }
    for (n, note) in notes.iter().enumerate() {
        let _ = writeln!(
            svg,
            "<text class=\"note\" x=\"34\" y=\"{}\">{}: {note}</text>",
            top + 18.0 * n as f64,
            n + 1
        );
    }
    svg + "</svg>\n"
}
