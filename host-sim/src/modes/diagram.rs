//! The modes as a picture: boxes in fixed places, arrows for the changes that were found.
//!
//! A change that all modes of the frame share, to the same mode, is one arrow from it.

use super::proof::Proof;
use firmware::Mode;
use std::collections::BTreeMap;
use std::fmt::Write;

/// Half width and half height of a box.
const HALF: (f64, f64) = (56.0, 23.0);

/// Frame of the driving modes but Limp and Release: left, top, right, bottom.
const FRAME: (f64, f64, f64, f64) = (390.0, 24.0, 1040.0, 330.0);

/// The modes in it.
const FRAMED: [Mode; 5] = [
    Mode::Rise,
    Mode::Active,
    Mode::Derated,
    Mode::Beyond,
    Mode::Settle,
];

const STYLE: &str = "\
.page{fill:#ffffff}.frame{fill:#eef4fb;stroke:#7a8ea5;stroke-dasharray:5 4}\
.box{fill:#ffffff;stroke:#33475b;stroke-width:1.5}.drives{fill:#d6e8fa}.limits{fill:#efe6b8}.damps{fill:#fbe3d0}\
.line{fill:none;stroke:#33475b;stroke-width:1.4}.head{fill:#33475b}\
text{font-family:system-ui,sans-serif;font-size:14px;fill:#1c2733;text-anchor:middle}\
.name{font-weight:600}.number{font-size:12px}.dot{fill:#ffffff;stroke:#33475b}\
.note{text-anchor:start;font-size:12px}\
@media (prefers-color-scheme:dark){.page{fill:#14191f}.frame{fill:#1b2530;stroke:#6f8296}\
.box{fill:#232d38;stroke:#b8c7d6}.drives{fill:#1f4668}.limits{fill:#5a5220}.damps{fill:#663a1c}.line{stroke:#b8c7d6}.head{fill:#b8c7d6}\
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
        Mode::Limp => (960.0, 460.0),
        Mode::Release => (470.0, 460.0),
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

/// The way of an arrow from the frame.
fn from_frame(to: Mode) -> Vec<(f64, f64)> {
    let goal = place(to);
    let (left, right) = (goal.0 - HALF.0, goal.0 + HALF.0);
    let (top, bottom) = (goal.1 - HALF.1, goal.1 + HALF.1);
    match to {
        // Beside all others, and in the lowest lane.
        Mode::Fault => {
            let (lane, far) = (bottom + 76.0, FRAME.2 + 18.0);
            let side = 0.5 * (FRAME.1 + FRAME.3);
            let x = goal.0 - 24.0;
            vec![
                (FRAME.2, side),
                (far, side),
                (far, lane),
                (x, lane),
                (x, bottom),
            ]
        }
        Mode::Damped => vec![(FRAME.0 + 26.0, FRAME.3), (right - 8.0, top)],
        _ => {
            let x = goal.0.clamp(FRAME.0, FRAME.2).clamp(left, right);
            vec![(x, FRAME.3), (x, top)]
        }
    }
}

/// The way of an arrow from one mode to another; `both`: there is one back as well.
fn between(from: Mode, to: Mode, both: bool) -> Vec<(f64, f64)> {
    let (a, b) = (place(from), place(to));
    let under = |x: f64, down: f64, end: f64| {
        let (low, lane) = (a.1 + HALF.1, a.1 + HALF.1 + down);
        vec![(x, low), (x, lane), (end, lane), (end, b.1 + HALF.1)]
    };
    match (from, to) {
        // Around Damped.
        (Mode::Release, Mode::Fault) => under(a.0, 28.0, b.0 + 24.0),
        (Mode::Limp, Mode::Fault) => under(a.0, 52.0, b.0),
        _ => {
            // Opposite arrows run side by side.
            let length = (b.0 - a.0).hypot(b.1 - a.1);
            let aside = if both { 8.0 } else { 0.0 };
            let (ox, oy) = (-(b.1 - a.1) / length * aside, (b.0 - a.0) / length * aside);
            let way = (b.0 - a.0, b.1 - a.1);
            vec![edge(a, (ox, oy), way), edge(b, (ox, oy), (-way.0, -way.1))]
        }
    }
}

/// An arrow along a way, with its number at the share `at` of the longest piece.
fn arrow(svg: &mut String, way: &[(f64, f64)], number: usize, at: f64) {
    let length = |piece: &[(f64, f64)]| (piece[1].0 - piece[0].0).hypot(piece[1].1 - piece[0].1);
    let pieces = || way.windows(2);
    let longest = pieces().max_by(|a, b| length(a).total_cmp(&length(b)));
    let (Some(longest), Some(last)) = (longest, pieces().last()) else {
        return;
    };
    let (from, to) = (last[0], last[1]);
    let (ux, uy) = (
        (to.0 - from.0) / length(last).max(1e-9),
        (to.1 - from.1) / length(last).max(1e-9),
    );
    let foot = (to.0 - 10.0 * ux, to.1 - 10.0 * uy);
    let x = longest[0].0 + at * (longest[1].0 - longest[0].0);
    let y = longest[0].1 + at * (longest[1].1 - longest[0].1);
    let mut path = String::new();
    for (n, point) in way[..way.len() - 1].iter().chain([&foot]).enumerate() {
        let letter = if n == 0 { 'M' } else { 'L' };
        let _ = write!(path, "{letter}{:.1} {:.1}", point.0, point.1);
    }
    let _ = writeln!(
        svg,
        "<path class=\"line\" d=\"{path}\"/>\
         <path class=\"head\" d=\"M{:.1} {:.1}L{:.1} {:.1}L{:.1} {:.1}Z\"/>\
         <circle class=\"dot\" cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"9.5\"/>\
         <text class=\"number\" x=\"{x:.1}\" y=\"{:.1}\">{number}</text>",
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
        (0..=u8::MAX)
            .map_while(Mode::from_code)
            .find(|mode| mode.name() == name)
            .unwrap_or_default()
    };
    let changes: Vec<(Mode, Mode, &[String])> = proof
        .changes
        .iter()
        .map(|row| (mode(row.from), mode(row.to), row.guards.as_slice()))
        .collect();
    let mut shared: BTreeMap<(Mode, &str), usize> = BTreeMap::new();
    for (from, to, guards) in &changes {
        if FRAMED.contains(from) && !FRAMED.contains(to) {
            for guard in *guards {
                *shared.entry((*to, guard)).or_default() += 1;
            }
        }
    }
    shared.retain(|_, count| *count == FRAMED.len());

    let mut arrows = String::new();
    let mut notes: Vec<String> = Vec::new();
    for (to, guard) in shared.keys() {
        notes.push(format!("any mode of the frame to {}: {guard}", to.name()));
        arrow(&mut arrows, &from_frame(*to), notes.len(), 0.5);
    }
    for (from, to, guards) in &changes {
        let own: Vec<&str> = guards
            .iter()
            .map(String::as_str)
            .filter(|guard| !(FRAMED.contains(from) && shared.contains_key(&(*to, guard))))
            .collect();
        if own.is_empty() {
            continue;
        }
        notes.push(format!(
            "{} to {}: {}",
            from.name(),
            to.name(),
            own.join("; or ")
        ));
        let both = changes.iter().any(|(x, y, _)| (x, y) == (to, from));
        let at = if both { 0.36 } else { 0.42 };
        arrow(&mut arrows, &between(*from, *to, both), notes.len(), at);
    }

    let top = 600.0;
    let height = top + 18.0 * notes.len() as f64 + 8.0;
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 1070 {height}\" role=\"img\">\
         <title>Modes of the seat</title><style>{STYLE}</style>\n\
         <rect class=\"page\" width=\"1070\" height=\"{height}\"/>\n\
         <rect class=\"frame\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" rx=\"10\"/>\
         <text class=\"note\" x=\"{}\" y=\"{}\">driving on</text>\n",
        FRAME.0,
        FRAME.1,
        FRAME.2 - FRAME.0,
        FRAME.3 - FRAME.1,
        FRAME.0 + 12.0,
        FRAME.1 + 20.0
    );
    svg += &arrows;
    for mode in (0..=u8::MAX).map_while(Mode::from_code) {
        let (x, y) = place(mode);
        let kind = if !mode.drives() {
            "damps"
        } else if FRAMED.contains(&mode) {
            "drives"
        } else {
            "limits"
        };
        let _ = writeln!(
            svg,
            "<rect class=\"box {kind}\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" rx=\"6\"/>\
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
