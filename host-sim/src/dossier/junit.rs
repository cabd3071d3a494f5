//! Verdicts as JUnit reports have them, for CI systems: a limit is a case, a stage of figures a suite.
//!
//! What makes the exit code 1 fails here too: a limit that a full dossier does not demonstrate. In another dossier it is
//! skipped where its stage is listed as not run.
//!
//! The form has no standard; this is what CI systems commonly read (from memory, no source).

use super::record::{Dossier, Judged, Verdict};
use super::words;
use crate::report::escape;
use std::fmt::Write;

/// The report.
#[must_use]
pub fn junit(dossier: &Dossier) -> String {
    let mut suites: Vec<(&str, Vec<&Judged>)> = Vec::new();
    for verdict in &dossier.verdicts {
        let name = match verdict.verdict {
            Verdict::ByTests => "tests",
            _ => verdict.figure.split('.').next().unwrap_or_default(),
        };
        match suites.iter_mut().find(|(known, _)| *known == name) {
            Some((_, cases)) => cases.push(verdict),
            None => suites.push((name, vec![verdict])),
        }
    }
    let mut text = String::from("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n");
    let excused = |limit: &String| {
        dossier.plan != "full" && dossier.not_run.iter().any(|n| n.limits.contains(limit))
    };
    let fails = |case: &Judged| match case.verdict {
        Verdict::Broken => true,
        Verdict::NotDemonstrated => !excused(&case.limit),
        Verdict::ByTests | Verdict::Holds => false,
    };
    // What was not measured here was skipped here, be it shown by tests or excused.
    let skips = |case: &Judged| !fails(case) && case.verdict != Verdict::Holds;
    let failed = |cases: &[&Judged]| cases.iter().filter(|c| fails(c)).count();
    let skipped = |cases: &[&Judged]| cases.iter().filter(|c| skips(c)).count();
    let all: Vec<&Judged> = dossier.verdicts.iter().collect();
    // Writing to a string cannot fail.
    let _ = writeln!(
        text,
        "<testsuites name=\"becalm dossier\" tests=\"{}\" failures=\"{}\" skipped=\"{}\">",
        all.len(),
        failed(&all),
        skipped(&all)
    );
    for (name, cases) in &suites {
        let _ = writeln!(
            text,
            "  <testsuite name=\"{}\" tests=\"{}\" failures=\"{}\" skipped=\"{}\">",
            escape(name),
            cases.len(),
            failed(cases),
            skipped(cases)
        );
        for case in cases {
            let _ = write!(
                text,
                "    <testcase classname=\"becalm.{}\" name=\"{}\"",
                escape(name),
                escape(&case.limit)
            );
            let measured = case.measured.map_or_else(|| "no number".to_owned(), words);
            let said = format!(
                "{}: {measured} {}, {} {} {} wanted; {}; {}",
                case.protects,
                case.unit,
                case.sense,
                case.value,
                case.unit,
                case.command,
                case.why.as_deref().unwrap_or("")
            );
            let said = escape(said.trim_end_matches("; "));
            let _ = if fails(case) {
                writeln!(
                    text,
                    "><failure message=\"{}: {said}\"/></testcase>",
                    case.verdict.words()
                )
            } else if skips(case) {
                writeln!(text, "><skipped message=\"{said}\"/></testcase>")
            } else {
                writeln!(text, "/>")
            };
        }
        text.push_str("  </testsuite>\n");
    }
    text + "</testsuites>\n"
}
