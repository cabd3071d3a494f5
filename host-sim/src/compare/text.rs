//! A comparison as a table for a terminal and as Markdown for a pull request.

use super::judge::{BrokenLimit, Change, Comparison};
use super::limits::{LimitChange, Wanted};
use crate::dossier::words;
use crate::units;

/// A number or what stands for none.
fn cell(value: Option<f64>) -> String {
    value.map_or_else(|| "–".to_owned(), words)
}

/// A part of the first side's figure as a share, or as it is where there is no share.
fn part(value: Option<f64>, before: Option<f64>) -> String {
    match (value, before) {
        (Some(value), Some(before)) if before != 0.0 => {
            format!("{:+.1} %", 100.0 * value / before.abs())
        }
        (Some(value), _) => format!("{}{}", if value > 0.0 { "+" } else { "" }, words(value)),
        _ => "–".to_owned(),
    }
}

/// Change, change by seed, and the least that would be detected.
fn moved(c: &Change) -> [String; 3] {
    let least = match (c.detectable, c.basis) {
        (_, None) => "–".to_owned(),
        (Some(share), _) if share < 0.0005 => "any".to_owned(),
        (Some(share), _) => format!("{:.1} %", 100.0 * share),
        (None, _) if c.noise == 0.0 => "any".to_owned(),
        (None, _) => words(c.noise),
    };
    [part(c.change, c.before), part(c.by_seed, c.before), least]
}

/// Unit, and a mark where the seeds are not the same.
fn unit(c: &Change) -> String {
    let mark = if c.basis == Some(super::noise::Basis::OtherSeeds) {
        " (other seeds: by the spread of each side)"
    } else {
        ""
    };
    format!("{}{mark}", c.unit)
}

/// Said where limits allow more than before.
const FREED: &str = "A limit that allows more than before is a regression, whatever was measured. If it is meant: re-base, and say in the \
     commit why.";

/// What becomes of the limits.
fn limit_words(l: &LimitChange) -> String {
    let wanted = |w: &Option<Wanted>| {
        w.as_ref()
            .map_or_else(|| "no limit".to_owned(), Wanted::words)
    };
    let mut text = format!(
        "{}: {}, was {} -> is {}",
        l.limit,
        if l.regression {
            l.became.words().to_uppercase()
        } else {
            l.became.words().to_owned()
        },
        wanted(&l.was),
        wanted(&l.is)
    );
    if let (Some(was), Some(is)) = (&l.was, &l.is) {
        text += &if was.source == is.source {
            format!(" (source as it was: {})", is.source)
        } else {
            format!(" (source was {} -> is {})", was.source, is.source)
        };
    }
    text
}

/// Another rig, and limits that are not the same: what a reader must know before the figures.
fn first(c: &Comparison) -> Vec<String> {
    let mut lines = Vec::new();
    if let Some([a, b]) = &c.other_rig {
        let short = |sha: &str| sha.chars().take(16).collect::<String>();
        lines.push(format!(
            "OTHER RIG: A {} ({}), B {} ({}): what differs may be the machine",
            a.name,
            short(&a.sha256),
            b.name,
            short(&b.sha256)
        ));
    }
    lines
}

fn was(l: &BrokenLimit) -> &'static str {
    l.was.map_or("no limit", crate::dossier::Verdict::words)
}

fn parts(c: &Comparison) -> [(&'static str, &[Change]); 4] {
    [
        ("Worse", &c.worse),
        ("Gone", &c.gone),
        ("Better", &c.better),
        ("New", &c.new),
    ]
}

/// For a terminal. Figures within noise and those that are the same are counted, and listed only with `all`.
#[must_use]
pub fn table(c: &Comparison, all: bool) -> String {
    let mut text = format!(
        "A  {}  ({})\nB  {}  ({})\n\n{}\n",
        c.a,
        c.a_about,
        c.b,
        c.b_about,
        c.in_short()
    );
    for line in first(c) {
        text += &format!("\n{line}\n");
    }
    if !c.limits_changed.is_empty() {
        text += "\nlimits changed\n";
        for l in &c.limits_changed {
            text += &format!("  {}\n", limit_words(l));
        }
        if c.limits_changed.iter().any(|l| l.regression) {
            text += &format!("  {FREED}\n");
        }
    }
    if !c.broken.is_empty() {
        text += &format!(
            "\n{:<28}{:>18}{:>12}  {:<17}{}\n",
            "limit not kept by B", "wanted", "measured", "in A", "in B"
        );
        for l in &c.broken {
            let wanted = format!("{} {}", l.sense, words(l.value));
            text += &format!(
                "{:<28}{wanted:>18}{:>12}  {:<17}{}\n",
                l.limit,
                cell(l.measured),
                was(l),
                l.verdict.words()
            );
        }
    }
    let noise = [
        ("Within noise", c.within_noise.as_slice()),
        ("The same", c.same.as_slice()),
    ];
    for (name, changes) in parts(c)
        .into_iter()
        .chain(noise.into_iter().filter(|_| all))
    {
        if changes.is_empty() {
            continue;
        }
        text += &format!(
            "\n{name:<36}{:>11}{:>11}{:>11}{:>11}{:>11}  unit\n",
            "A", "B", "change", "by seed", "detectable"
        );
        for change in changes {
            let [by, by_seed, least] = moved(change);
            text += &format!(
                "  {:<34}{:>11}{:>11}{by:>11}{by_seed:>11}{least:>11}  {}\n",
                change.figure,
                cell(change.before),
                cell(change.after),
                unit(change)
            );
        }
    }
    text
}

/// For a pull request.
#[must_use]
pub fn markdown(c: &Comparison) -> String {
    let verdict = if c.regression {
        "Regression"
    } else {
        "No regression"
    };
    let mut text = format!(
        "### {verdict}\n\n{}.\n\n- A: `{}` ({})\n- B: `{}` ({})\n",
        c.in_short(),
        c.a,
        c.a_about,
        c.b,
        c.b_about
    );
    for line in first(c) {
        text += &format!("\n**{line}.**\n");
    }
    if !c.limits_changed.is_empty() {
        text += "\n#### Limits changed\n\n";
        for l in &c.limits_changed {
            text += &format!("- {}\n", limit_words(l));
        }
        if c.limits_changed.iter().any(|l| l.regression) {
            text += &format!("\n{FREED}\n");
        }
    }
    if !c.broken.is_empty() {
        text += "\n#### Limits not kept by B\n\n| limit | wanted | measured | in A | in B | reproduce |\n|---|---|---|---|---|---|\n";
        for l in &c.broken {
            let name = if l.regression {
                format!("**{}**", l.limit)
            } else {
                l.limit.clone()
            };
            text += &format!(
                "| {name} | {} {} | {} | {} | {} | `{}` |\n",
                l.sense,
                units::beside(words(l.value), &l.unit),
                cell(l.measured),
                was(l),
                l.verdict.words(),
                l.command
            );
        }
    }
    for (name, changes) in parts(c) {
        if !changes.is_empty() {
            text += &format!("\n#### {name}\n\n{}", rows(changes));
        }
    }
    for (name, changes) in [("within noise", &c.within_noise), ("the same", &c.same)] {
        if !changes.is_empty() {
            text += &format!(
                "\n<details><summary>{} figures {name}</summary>\n\n{}\n</details>\n",
                changes.len(),
                rows(changes)
            );
        }
    }
    text
}

fn rows(changes: &[Change]) -> String {
    let mut text = String::from(
        "| figure | A | B | change | by seed | detectable | unit |\n|---|---|---|---|---|---|---|\n",
    );
    for c in changes {
        let [by, by_seed, least] = moved(c);
        text += &format!(
            "| {} | {} | {} | {by} | {by_seed} | {least} | {} |\n",
            c.figure,
            cell(c.before),
            cell(c.after),
            unit(c)
        );
    }
    text
}
