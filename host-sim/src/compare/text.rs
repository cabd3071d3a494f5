//! A comparison as a table for a terminal and as Markdown for a pull request.

use super::judge::{BrokenLimit, Change, Comparison};
use crate::dossier::words;

/// A number or what stands for none.
fn cell(value: Option<f64>) -> String {
    value.map_or_else(|| "–".to_owned(), words)
}

fn change_cell(c: &Change) -> String {
    match (c.change, c.before) {
        (Some(change), Some(before)) if before != 0.0 => {
            format!("{:+.1} %", 100.0 * change / before.abs())
        }
        (Some(change), _) => format!("{}{}", if change > 0.0 { "+" } else { "" }, words(change)),
        _ => "–".to_owned(),
    }
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

/// For a terminal. Figures within noise are counted, and listed only with `all`.
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
    let noise = [("Within noise", c.within_noise.as_slice())];
    for (name, changes) in parts(c)
        .into_iter()
        .chain(noise.into_iter().filter(|_| all))
    {
        if changes.is_empty() {
            continue;
        }
        text += &format!(
            "\n{name:<36}{:>11}{:>11}{:>10}{:>10}  unit\n",
            "A", "B", "change", "noise"
        );
        for change in changes {
            text += &format!(
                "  {:<34}{:>11}{:>11}{:>10}{:>10}  {}\n",
                change.figure,
                cell(change.before),
                cell(change.after),
                change_cell(change),
                words(change.noise),
                change.unit
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
    if !c.broken.is_empty() {
        text += "\n#### Limits not kept by B\n\n| limit | wanted | measured | in A | in B | reproduce |\n|---|---|---|---|---|---|\n";
        for l in &c.broken {
            let name = if l.regression {
                format!("**{}**", l.limit)
            } else {
                l.limit.clone()
            };
            text += &format!(
                "| {name} | {} {} {} | {} | {} | {} | `{}` |\n",
                l.sense,
                words(l.value),
                l.unit,
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
    if !c.within_noise.is_empty() {
        text += &format!(
            "\n<details><summary>{} figures within noise</summary>\n\n{}\n</details>\n",
            c.within_noise.len(),
            rows(&c.within_noise)
        );
    }
    text
}

fn rows(changes: &[Change]) -> String {
    let mut text =
        String::from("| figure | A | B | change | noise | unit |\n|---|---|---|---|---|---|\n");
    for c in changes {
        text += &format!(
            "| {} | {} | {} | {} | {} | {} |\n",
            c.figure,
            cell(c.before),
            cell(c.after),
            change_cell(c),
            words(c.noise),
            c.unit
        );
    }
    text
}
