//! The picture of the page: how much of each limit is used.

use super::record::{Dossier, Judged, Verdict};
use crate::report::escape;

/// Heights and widths of the picture, in its own units.
const ROW: f64 = 17.0;
const LABELS: f64 = 200.0;
const WIDTH: f64 = 900.0;
const TOP: f64 = 24.0;
/// The axis ends at this share; what is used beyond it is told by its number.
const MOST: f64 = 1.5;

/// Share of a limit that is used; none for limits of zero, and where there is no number.
fn share(v: &Judged) -> Option<f64> {
    let measured = v.measured?;
    let share = if v.sense == "at most" {
        measured / v.value
    } else {
        v.value / measured
    };
    (v.value != 0.0 && share.is_finite()).then_some(share.max(0.0))
}

/// A bar for every limit that is a share of something.
pub(super) fn used(dossier: &Dossier) -> String {
    let mut rows: Vec<(&Judged, f64)> = dossier
        .verdicts
        .iter()
        .filter_map(|v| Some((v, share(v)?)))
        .collect();
    rows.sort_by(|a, b| b.1.total_cmp(&a.1));
    let height = TOP + ROW * rows.len() as f64 + 6.0;
    let x = |share: f64| LABELS + (WIDTH - LABELS - 60.0) * share.min(MOST) / MOST;
    let mut svg = format!(
        "<figure>\n<div class=\"plot\"><svg viewBox=\"0 0 {WIDTH} {height}\" role=\"img\" aria-label=\"Share of each limit that is used\">\n"
    );
    for tick in [0.0, 0.25, 0.5, 0.75, 1.0, 1.25, 1.5] {
        let class = if tick == 1.0 { "edge" } else { "grid" };
        svg += &format!(
            "<line class=\"{class}\" x1=\"{0:.1}\" y1=\"{TOP}\" x2=\"{0:.1}\" y2=\"{height:.1}\"/><text class=\"tick\" x=\"{0:.1}\" y=\"{1}\" \
             text-anchor=\"middle\">{2:.0} %</text>\n",
            x(tick),
            TOP - 8.0,
            100.0 * tick
        );
    }
    for (n, (v, share)) in rows.iter().enumerate() {
        let y = TOP + ROW * n as f64;
        let class = if v.verdict == Verdict::Broken {
            "bar broken"
        } else {
            "bar"
        };
        svg += &format!(
            "<a href=\"#limit-{0}\"><text class=\"name\" x=\"{1}\" y=\"{2:.1}\" text-anchor=\"end\">{0}</text></a>\
             <rect class=\"{class}\" x=\"{3}\" y=\"{4:.1}\" width=\"{5:.1}\" height=\"{6}\"/>\
             <text class=\"value\" x=\"{7:.1}\" y=\"{2:.1}\">{8:.0} %</text>\n",
            escape(&v.limit),
            LABELS - 8.0,
            y + 12.5,
            LABELS,
            y + 3.0,
            (x(*share) - LABELS).max(0.5),
            ROW - 6.0,
            x(*share) + 5.0,
            100.0 * share,
        );
    }
    let left: Vec<&str> = dossier
        .verdicts
        .iter()
        .filter(|v| share(v).is_none())
        .map(|v| v.limit.as_str())
        .collect();
    svg += "</svg></div>\n<figcaption>Measured over limit (limit over measured where it is a least value). ";
    if !left.is_empty() {
        svg += &format!(
            "Not drawn, because the limit is zero or nothing is measured: {}.",
            escape(&left.join(", "))
        );
    }
    svg + "</figcaption>\n</figure>\n"
}
