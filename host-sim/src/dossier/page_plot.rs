//! The chart of the page: how much of each limit is used. A table with a bar in each row, so that names have the room that
//! they need and numbers a column of their own, however narrow the window.

use super::record::{Dossier, Judged, Verdict};
use crate::report::escape;

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

/// Where a share stands on the axis, in per cent of its length.
fn place(share: f64) -> f64 {
    100.0 * share.min(MOST) / MOST
}

/// A bar for every limit that is a share of something.
pub(super) fn used(dossier: &Dossier) -> String {
    let mut rows: Vec<(&Judged, f64)> = dossier
        .verdicts
        .iter()
        .filter_map(|v| Some((v, share(v)?)))
        .collect();
    rows.sort_by(|a, b| b.1.total_cmp(&a.1));
    let mut html = String::from(
        "<figure>\n<table class=\"used\">\n<thead><tr><th scope=\"col\">limit</th><th class=\"axis\"><div>",
    );
    for tick in [0.0, 0.5, 1.0, MOST] {
        html += &format!(
            "<span style=\"left:{:.2}%\">{:.0} %</span>",
            place(tick),
            100.0 * tick
        );
    }
    html += "</div></th><th scope=\"col\">used</th></tr></thead>\n<tbody>\n";
    for (v, share) in &rows {
        let class = if v.verdict == Verdict::Broken {
            "bar broken"
        } else {
            "bar"
        };
        html += &format!(
            "<tr><th scope=\"row\"><a href=\"#limit-{0}\">{0}</a></th><td class=\"track\"><div>\
             <span class=\"{class}\" style=\"width:{1:.2}%\"></span><span class=\"edge\" style=\"left:{2:.2}%\"></span></div></td>\
             <td class=\"value\">{3:.0} %</td></tr>\n",
            escape(&v.limit),
            place(*share),
            place(1.0),
            100.0 * share,
        );
    }
    let left: Vec<&str> = dossier
        .verdicts
        .iter()
        .filter(|v| share(v).is_none())
        .map(|v| v.limit.as_str())
        .collect();
    html += "</tbody>\n</table>\n<figcaption>Measured over limit (limit over measured where it is a least value); the upright line is \
             the limit.";
    if !left.is_empty() {
        html += &format!(
            " Not drawn, because the limit is zero or nothing is measured: {}.",
            escape(&left.join(", "))
        );
    }
    html + "</figcaption>\n</figure>\n"
}
