//! The page `dossier.html`: one file, no network, light and dark, fit to be printed.

use super::page_plot::used;
use super::page_ride;
use super::page_tables::{LITTLE, environment, figures, judged, little_left, not_run};
use super::record::{Dossier, Verdict};
use super::run::Stage;
use super::watched::Watched;
use crate::report::escape;
use crate::units;

/// The house's style, and what only this page has.
const STYLE: &str = concat!(include_str!("../report/page.css"), include_str!("page.css"));

/// Closes details on a screen and opens them on paper.
const PRINT: &str = include_str!("page_print.js");

/// The page, with the pages in it that play `rides`.
///
/// # Errors
/// A text that cannot be JSON.
pub fn page(dossier: &Dossier, rides: &[Watched]) -> Result<String, serde_json::Error> {
    let rig = escape(&dossier.environment.rig);
    let mut html = format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\"/>\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>\n\
         <meta name=\"color-scheme\" content=\"light dark\"/>\n<title>Becalm: dossier of {rig}</title>\n\
         <style>\n{STYLE}</style>\n</head>\n<body class=\"dossier\">\n<header>\n\
         <p class=\"kind\">Becalm · {} dossier</p>\n<h1>{rig}</h1>\n",
        escape(&dossier.plan)
    );
    html += &environment(&dossier.environment);
    html += "</header>\n<main>\n";
    html += &in_short(dossier);
    html += &contents(dossier, rides);
    html += "<section id=\"limits\">\n<h2>Every limit</h2>\n";
    html += "<p>Limits come from the register (<code>becalm limits</code>). The margin is what is left to the limit, and its share of the \
             limit. The worst measured figure counts. Broken limits stand first, then what is not demonstrated, what holds by little, \
             what holds, and what tests alone demonstrate.</p>\n";
    html += &judged(dossier);
    html += "</section>\n<section id=\"used\">\n<h2>How much of each limit is used</h2>\n";
    html += &used(dossier);
    html += "</section>\n";
    if !dossier.not_run.is_empty() {
        html += "<section id=\"not-run\">\n<h2>What was not run</h2>\n";
        html += &not_run(&dossier.not_run);
        html += "</section>\n";
    }
    html += "<section id=\"figures\">\n<h2>Every figure</h2>\n\
             <p>Figures of several seeds are the mean or the worst of them; the spread is their standard deviation. `No bound` stands for \
             what never came to an end.</p>\n";
    for stage in Stage::ALL {
        html += &figures(dossier, stage);
    }
    html += "</section>\n";
    html += &page_ride::sections(rides)?;
    html += CAUTIONS;
    html += &format!("<script>\n(() => {{\n\"use strict\";\n{PRINT}}})();\n</script>\n");
    Ok(html + "</main>\n</body>\n</html>\n")
}

fn in_short(dossier: &Dossier) -> String {
    let [broken, open, tested, holds] = [
        Verdict::Broken,
        Verdict::NotDemonstrated,
        Verdict::ByTests,
        Verdict::Holds,
    ]
    .map(|v| dossier.count(v));
    let all = dossier.verdicts.len();
    let mut html = format!(
        "<section id=\"verdict\" class=\"verdict{}\">\n<h2>In short</h2>\n<p>{holds} of {all} limits hold",
        if broken > 0 { " bad" } else { "" }
    );
    let little = dossier.verdicts.iter().filter(|v| little_left(v)).count();
    if little > 0 {
        html += &format!(
            ", {little} of them with less than {:.0} % left",
            100.0 * LITTLE
        );
    }
    if broken > 0 {
        html += &format!(
            ", {broken} {} broken",
            if broken == 1 { "is" } else { "are" }
        );
    }
    if open > 0 {
        html += &format!(
            ", {open} {} not demonstrated",
            if open == 1 { "is" } else { "are" }
        );
    }
    if tested > 0 {
        html += &format!(
            ", {tested} {} demonstrated by tests alone and not measured here",
            if tested == 1 { "is" } else { "are" }
        );
    }
    html += ".</p>\n";
    if broken > 0 {
        html += "<ul>\n";
        for v in dossier
            .verdicts
            .iter()
            .filter(|v| v.verdict == Verdict::Broken)
        {
            let measured = v
                .measured
                .map_or_else(|| "no bound".to_owned(), |m| with_unit(m, &v.unit));
            html += &format!(
                "<li><a href=\"#limit-{0}\">{0}</a> protects the {1}. Measured {2}, {3} {4} wanted.</li>\n",
                escape(&v.limit),
                escape(&v.protects),
                escape(&measured),
                escape(&v.sense),
                escape(&with_unit(v.value, &v.unit))
            );
        }
        html += "</ul>\n";
    }
    html + "</section>\n"
}

/// A number with its unit; what has none stands alone.
pub(super) fn with_unit(value: f64, unit: &str) -> String {
    let number = super::words(value);
    match unit {
        "degC" => format!("{number} °C"),
        "deg" => format!("{number}°"),
        "m/s2" => format!("{number} m/s²"),
        "m/s3" => format!("{number} m/s³"),
        "m/s1.75" => format!("{number} m/s¹·⁷⁵"),
        unit => units::beside(number, unit),
    }
}

fn contents(dossier: &Dossier, rides: &[Watched]) -> String {
    let mut html = String::from("<nav aria-label=\"Contents\"><ul>\n");
    let mut link =
        |id: &str, words: &str| html += &format!("<li><a href=\"#{id}\">{words}</a></li>\n");
    link("limits", "Every limit");
    link("used", "How much of each limit is used");
    if !dossier.not_run.is_empty() {
        link("not-run", "What was not run");
    }
    link("figures", "Every figure");
    for ride in rides {
        link(ride.id, ride.title);
    }
    link("again", "How to check this dossier");
    html + "</ul></nav>\n"
}

const CAUTIONS: &str = "<section id=\"again\">\n<h2>How to check this dossier</h2>\n\
    <p>In its folder: <code>sha256sum --check SHA256SUMS</code>. With becalm: <code>becalm dossier verify FOLDER</code> looks at the \
    checksums, works out every figure from the raw data and every verdict from the figures, and rides a sample again. Each row above \
    names the command that reproduces it.</p>\n</section>\n\
    <section class=\"cautions\">\n<h2>What this is not</h2>\n<ul>\n\
    <li>The machine, its floors and its occupants are invented. A dossier of the default rig says nothing about a real seat.</li>\n\
    <li>It is evidence for an assessment by people who are qualified for it, and no assessment.</li>\n\
    <li>Instructions are counted under emulation; they are no cycles on silicon.</li>\n\
    <li>A quick dossier rides a little of everything. Its figures are not those of a full one.</li>\n</ul>\n</section>\n";
