//! The report `faults.html`: one self-contained page, the worst cases first.

use super::judge::{CONTACT_MPS, NO_WORSE, PEAK_FACTOR, STEP_MPS2, Verdict};
use super::plan::Plan;
use super::run::Ridden;
use super::summary::{BrokenLimit, COVERAGE, Roll, Summary, coverage_class, worst_of_each};
use super::tables;
use crate::report::escape;

/// Style sheets: that of all reports, and what this one adds.
const STYLE: [&str; 2] = [include_str!("../report/page.css"), include_str!("page.css")];

/// Sections: anchor and heading.
const SECTIONS: [(&str, &str); 9] = [
    ("matrix", "Every fault on every floor"),
    ("worst", "The worst case of each fault that misses a target"),
    ("beyond", "Beyond any firmware"),
    ("coverage", "Diagnostic coverage"),
    ("times", "Fault handling times"),
    ("fmea", "Failure modes and effects, as measured"),
    ("harmless", "Not noticed, and why that is safe"),
    ("alarms", "False alarms"),
    ("method", "What is measured, and how it is judged"),
];

/// What is evidence and what is not.
const CAUTIONS: [&str; 5] = [
    "This campaign is evidence for an assessment by qualified people. It is not an assessment, and not a safety case.",
    "All of it is simulation of one invented machine on invented floors. Faults are single, of one size each, and those \
     that somebody thought of.",
    "The weights of the classes are invented. A real coverage needs the failure rates of the real parts.",
    "The seat moves a person with a force of kilonewtons. Keep people off a seat under test until qualified people have \
     assessed the machine under the rules that hold there.",
    "Terms are those of ISO 13849-1 and ISO 26262-1, read in public summaries and not in print. Where a standard, a local \
     rule or the judgement of a licensed practitioner says otherwise, that holds.",
];

/// The page. `command` is what was typed.
#[must_use]
pub fn page(plan: &Plan, ridden: &Ridden, summary: &Summary, command: &str) -> String {
    let rolls = Roll::all(&ridden.cases, &plan.faults);
    let sorted = worst_of_each(&ridden.cases);
    let title = format!("Fault campaign: {} cases", summary.cases);
    let mut html = format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\"/>\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>\n\
         <meta name=\"color-scheme\" content=\"light dark\"/>\n\
         <title>Becalm: {title}</title>\n<style>\n{}{}</style>\n</head>\n<body>\n\
         <header>\n<p class=\"kind\">Becalm · fault campaign</p>\n<h1>{title}</h1>\n\
         <p>Made by <code>{}</code></p>\n</header>\n<main>\n",
        STYLE[0],
        STYLE[1],
        escape(command)
    );
    html += "<section id=\"verdict\" class=\"verdict\">\n<h2>In short</h2>\n";
    for sentence in in_short(summary) {
        html += &format!("<p>{}</p>\n", escape(&sentence));
    }
    html += "</section>\n<nav aria-label=\"Contents\">\n<ul>\n";
    for (anchor, heading) in SECTIONS {
        html += &format!("<li><a href=\"#{anchor}\">{heading}</a></li>\n");
    }
    html += "<li><a href=\"#cautions\">Cautions</a></li>\n</ul>\n</nav>\n";
    let bodies = [
        legend(summary) + &tables::matrix(plan, &rolls),
        tables::worst(&sorted, &rolls),
        tables::beyond(&rolls),
        coverage(summary),
        tables::times(&rolls),
        tables::fmea(&rolls),
        tables::harmless(&rolls),
        tables::alarms(&ridden.healthy),
        method(),
    ];
    for ((anchor, heading), body) in SECTIONS.iter().zip(bodies) {
        html += &format!("<section id=\"{anchor}\">\n<h2>{heading}</h2>\n{body}</section>\n");
    }
    html += "<section id=\"cautions\" class=\"cautions\">\n<h2>Cautions</h2>\n<ul>\n";
    for caution in CAUTIONS {
        html += &format!("<li>{caution}</li>\n");
    }
    html + "</ul>\n</section>\n</main>\n</body>\n</html>\n"
}

impl BrokenLimit {
    /// What does not hold, in words.
    #[must_use]
    pub fn words(&self) -> String {
        let cases = format!(
            "{} case{}",
            self.cases,
            if self.cases == 1 { "" } else { "s" }
        );
        match (self.limit, self.worst) {
            ("contact_speed_mps", Some(x)) => {
                format!("contact too hard in {cases}, at most {x:.2} m/s")
            }
            ("peak_mps2", Some(x)) => format!("peak too high in {cases}, at most {x:.1} m/s2"),
            ("step_mps2", Some(x)) => {
                format!("step at the reaction in {cases}, at most {x:.1} m/s2")
            }
            ("detection_s", _) => format!("not noticed in time in {cases}"),
            ("coverage", Some(x)) => format!("coverage {:.1} %", 100.0 * x),
            ("false_alarms", _) => format!("false alarms in {} healthy rides", self.cases),
            (limit, _) => format!("{limit} in {cases}"),
        }
    }
}

fn in_short(summary: &Summary) -> Vec<String> {
    let mut said = vec![if summary.broken_limits.is_empty() {
        "All targets hold.".to_owned()
    } else {
        let broken: Vec<String> = summary
            .broken_limits
            .iter()
            .map(BrokenLimit::words)
            .collect();
        format!("Targets are missed: {}.", broken.join("; "))
    }];
    let covered = summary.coverage.map_or_else(
        || "No case is dangerous without a reaction.".to_owned(),
        |c| {
            format!(
                "{} cases are dangerous without a reaction; {} of them are covered: {:.1} % by weight, class \
                 \u{201c}{}\u{201d} of ISO 13849-1.",
                summary.dangerous,
                summary.dangerous_detected,
                100.0 * c,
                coverage_class(c)
            )
        },
    );
    said.push(covered);
    said.push(format!(
        "{} false alarms in {:.1} h of healthy riding.",
        summary.false_alarms, summary.false_alarm_hours
    ));
    said
}

fn legend(summary: &Summary) -> String {
    let mut html = "<ul class=\"legend\">\n".to_owned();
    for (verdict, count) in &summary.verdicts {
        html += &format!(
            "<li>{} {}: {count} cases</li>\n",
            tables::sign(*verdict),
            escape(verdict.words())
        );
    }
    html + "</ul>\n"
}

fn coverage(summary: &Summary) -> String {
    let share = |c: Option<f64>| {
        c.map_or_else(
            || "none dangerous".to_owned(),
            |c| format!("{:.1} %", 100.0 * c),
        )
    };
    format!(
        "<p class=\"formula\">coverage = &Sigma; w (dangerous cases noticed in time, with the limits held or beyond any \
         firmware) / &Sigma; w (dangerous cases), &nbsp; w = weight of the class / cases of the class</p>\n{}\
         <p>All classes, weighted: {} (asked for: {} %). Counting only cases whose limits hold: {}. \
         Counting also those in which one of the firmware's answers (Limp without one of three sensors, Settle without travel, \
         Release, Fault) would hold contact and peak had it come in the period of the onset: {}, which is what better detection alone may reach. Classes of ISO 13849-1: none below 60 %, low from 60 %, medium from 90 %, high from 99 %.</p>\n",
        tables::classes(summary),
        share(summary.coverage),
        100.0 * COVERAGE,
        share(summary.coverage_limits_held),
        share(summary.coverage_at_once)
    )
}

fn method() -> String {
    let rows = [
        (
            "case",
            "One fault at its usual size, one floor and level, one occupant (two-mass body), one onset; 3 s from the onset \
             (drifts 12 s, a restart 6 s, 2 s more than a long duration)."
                .to_owned(),
            "own",
        ),
        (
            "contact limit",
            format!("{CONTACT_MPS} m/s, or what the passive seat does over the same time, whichever is larger."),
            "target of the project",
        ),
        (
            "peak limit",
            format!("{PEAK_FACTOR} times the larger of the peaks of the healthy ride and of the passive seat."),
            "target of the project",
        ),
        (
            "passive seat",
            "A good seat without motor on the same floor; with the fault where that acts on people or on the support."
                .to_owned(),
            "own",
        ),
        (
            "dangerous",
            "The same firmware, made deaf to its faults, breaks the limit of contact or of peak.".to_owned(),
            "own derivation",
        ),
        (
            "changes the ride",
            "That firmware's ride differs from the healthy one by more than 0.5 m/s2 (mean over 5 ms) or 10 mm/s of travel \
             rate; the first such instant is the effect."
                .to_owned(),
            "own derivation",
        ),
        (
            "noticed",
            "The first new fault bit; for what people do and for the external watchdog the change of mode.".to_owned(),
            "own",
        ),
        (
            "in time",
            "Within 20 ms of the onset or of the effect; 100 ms for drifts and slow mechanical faults, for drifts also \
             before the estimated travel rate is 20 mm/s off. What people do is not asked for."
                .to_owned(),
            "target of the project; which class gets which time: own",
        ),
        (
            "FDTI, FRTI, FHTI",
            "From the onset to being noticed; from there to the mode that answers; their sum. The command acts one \
             transport delay later."
                .to_owned(),
            "terms of ISO 26262-1:2018",
        ),
        (
            "FTTI",
            "From the onset to the first broken limit where nothing reacts; the least of all cases.".to_owned(),
            "term of ISO 26262-1:2018; the measure is our own",
        ),
        (
            "step",
            format!(
                "Largest change of seat acceleration within 2 ms in 0.3 s from the reaction on, less the largest of the \
                 healthy and of the unreacting ride there; not at a stop. Limit {STEP_MPS2} m/s2."
            ),
            "target of the project",
        ),
        (
            "beyond any firmware",
            format!(
                "A limit is broken, but the seat does no worse (factor {NO_WORSE}) than it did before the first answer to \
                 the fault could act; or, where the motor cannot act any more, than the best of windings open, windings \
                 shorted and the firmware that does not react."
            ),
            "own derivation",
        ),
    ];
    let mut html = "<table class=\"method\">\n<caption>Words of this page</caption>\n<thead><tr><th scope=\"col\">word</th>\
                    <th scope=\"col\">meaning</th><th scope=\"col\">source</th></tr></thead>\n<tbody>\n"
        .to_owned();
    for (word, meaning, source) in rows {
        html += &format!(
            "<tr><th scope=\"row\">{word}</th><td>{}</td><td>{source}</td></tr>\n",
            escape(&meaning)
        );
    }
    html + "</tbody>\n</table>\n"
}

/// Whether a verdict is one that needs work.
pub(super) fn needs_work(verdict: Verdict) -> bool {
    matches!(verdict, Verdict::Broken | Verdict::Missed | Verdict::Late)
}
