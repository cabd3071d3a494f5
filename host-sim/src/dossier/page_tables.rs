//! Tables of the page.

use super::figure::Over;
use super::page::with_unit;
use super::record::{Dossier, Environment, Judged, NotRun, Verdict};
use super::run::Stage;
use super::words;
use crate::report::escape;

/// What it was made with.
pub(super) fn environment(e: &Environment) -> String {
    let short = |text: &str| text.chars().take(16).collect::<String>();
    let (commit, changed) = e.git.split_once(' ').unwrap_or((&e.git, ""));
    let rows = [
        ("Becalm", e.becalm.clone()),
        ("Compiler", e.compiler.clone()),
        ("Built for", format!("{} ({})", e.target, e.profile)),
        ("Run on", e.system.clone()),
        (
            "Cores emulated by",
            e.emulator.clone().unwrap_or_else(|| "none".to_owned()),
        ),
        ("Commit", format!("{} {changed}", short(commit))),
        ("Sources, SHA-256", short(&e.sources)),
        (
            "Rig, SHA-256",
            format!(
                "{} ({})",
                short(&e.rig_sha256),
                e.rig_file.as_deref().unwrap_or("default rig")
            ),
        ),
    ];
    let mut html = String::from("<dl class=\"ridden\">\n");
    for (name, value) in rows {
        html += &format!(
            "<div><dt>{name}</dt><dd>{}</dd></div>\n",
            escape(value.trim())
        );
    }
    html + "</dl>\n"
}

/// What holds with less than this share of the limit left holds by little.
pub(super) const LITTLE: f64 = 0.05;

/// Whether a limit holds with little left. A limit of zero has no share.
pub(super) fn little_left(v: &Judged) -> bool {
    let share = |margin: f64| margin / v.value.abs();
    v.verdict == Verdict::Holds && v.value != 0.0 && v.margin.is_some_and(|m| share(m) < LITTLE)
}

/// The tables of limits, in the order in which they matter: identifier, and the heading of their reason where nothing was
/// measured.
const GROUPS: [(&str, &str); 5] = [
    ("broken", ""),
    ("open", "why"),
    ("little", ""),
    ("holding", ""),
    ("tested", "what the tests assert"),
];

/// Which of the tables a limit stands in, by its identifier.
fn group(v: &Judged) -> &'static str {
    match v.verdict {
        Verdict::Broken => "broken",
        Verdict::NotDemonstrated => "open",
        Verdict::Holds if little_left(v) => "little",
        Verdict::Holds => "holding",
        Verdict::ByTests => "tested",
    }
}

/// Every limit; within a table the register's order stays.
pub(super) fn judged(dossier: &Dossier) -> String {
    let mut html = String::new();
    for (id, reason) in GROUPS {
        let title = match id {
            "broken" => "Broken".to_owned(),
            "open" => "Not demonstrated".to_owned(),
            "little" => format!("Holds with less than {:.0} % left", 100.0 * LITTLE),
            "holding" => "Holds".to_owned(),
            _ => "Demonstrated by tests, not measured here".to_owned(),
        };
        let all = dossier.verdicts.iter();
        let own: Vec<&Judged> = all.filter(|v| group(v) == id).collect();
        if own.is_empty() {
            continue;
        }
        html += &format!(
            "<section id=\"limits-{id}\">\n<h3>{title} ({})</h3>\n",
            own.len()
        );
        if reason.is_empty() {
            html += "<table class=\"limits\">\n<thead><tr><th scope=\"col\">limit</th><th scope=\"col\">wanted</th>\
                     <th scope=\"col\">measured</th><th scope=\"col\">margin</th><th scope=\"col\">verdict</th></tr></thead>\n<tbody>\n";
            html.extend(own.into_iter().map(row));
        } else {
            html += &format!(
                "<table class=\"limits compact\">\n<thead><tr><th scope=\"col\">limit</th><th scope=\"col\">wanted</th>\
                 <th scope=\"col\">{reason}</th></tr></thead>\n<tbody>\n"
            );
            html.extend(own.into_iter().map(|v| compact(v, reason)));
        }
        html += "</tbody>\n</table>\n</section>\n";
    }
    html
}

/// Where a limit comes from and what stands behind it. Open as it is written, so that it is printed; the page's script
/// closes it on a screen.
fn behind(v: &Judged) -> String {
    let (how, tests) = if v.judged.is_empty() {
        ("Demonstrated", &v.demonstrated)
    } else {
        ("Listed as missed, judged by", &v.judged)
    };
    format!(
        "<details open=\"open\"><summary>Source, enforced, tests</summary><p>Source: {}.</p> <p>Enforced: {}.</p> \
         <p>{how}: {}.</p></details>",
        escape(&v.source),
        escape(&v.enforced.join("; ")),
        escape(&tests.join(", ")),
    )
}

/// A limit without a figure.
fn compact(v: &Judged, reason: &str) -> String {
    format!(
        "<tr id=\"limit-{0}\"><th scope=\"row\"><b>{0}</b><p>{1}</p></th><td data-name=\"wanted\">{2} {3}</td>\
         <td class=\"reason\" data-name=\"{reason}\">{4}<p class=\"from\"><code>{5}</code></p>{6}</td></tr>\n",
        escape(&v.limit),
        escape(&v.protects),
        escape(&v.sense),
        escape(&with_unit(v.value, &v.unit)),
        escape(v.why.as_deref().unwrap_or("–")),
        escape(&v.command),
        behind(v),
    )
}

/// A limit and what was measured of it.
fn row(v: &Judged) -> String {
    let class = if v.verdict == Verdict::Broken {
        "broken"
    } else {
        "holds"
    };
    let margin = match v.margin {
        Some(margin) if v.value != 0.0 => format!(
            "{}<br/> <small>{:.0} %</small>",
            escape(&with_unit(margin, &v.unit)),
            100.0 * margin / v.value.abs()
        ),
        Some(margin) => escape(&with_unit(margin, &v.unit)),
        None => "–".to_owned(),
    };
    let measured = v
        .measured
        .map_or_else(|| "no bound".to_owned(), |m| with_unit(m, &v.unit));
    let why = v.why.as_ref().map_or_else(String::new, |why| {
        format!("<p class=\"why\">{}</p>", escape(why))
    });
    format!(
        "<tr id=\"limit-{0}\" class=\"{class}\"><th scope=\"row\"><b>{0}</b><p>{1}</p>{why}<p class=\"from\">\
         <a href=\"{2}\">{2}</a>, <a href=\"#figure-{3}\">{3}</a>; <code>{4}</code></p>{5}</th>\
         <td data-name=\"wanted\">{6} {7}</td><td data-name=\"measured\">{8}</td><td data-name=\"margin\">{margin}</td>\
         <td class=\"mark\" data-name=\"verdict\">{9}</td></tr>\n",
        escape(&v.limit),
        escape(&v.protects),
        escape(&v.evidence),
        escape(&v.figure),
        escape(&v.command),
        behind(v),
        escape(&v.sense),
        escape(&with_unit(v.value, &v.unit)),
        escape(&measured),
        v.verdict.words(),
    )
}

/// What was not run, and which limits wait for it.
pub(super) fn not_run(all: &[NotRun]) -> String {
    let mut html = String::from(
        "<table class=\"method\">\n<thead><tr><th scope=\"col\">stage</th><th scope=\"col\">why</th><th scope=\"col\">limits not demonstrated \
         for it</th></tr></thead>\n<tbody>\n",
    );
    for n in all {
        let limits: Vec<String> = n
            .limits
            .iter()
            .map(|l| format!("<a href=\"#limit-{0}\">{0}</a>", escape(l)))
            .collect();
        let limits = if limits.is_empty() {
            "none".to_owned()
        } else {
            limits.join(", ")
        };
        html += &format!(
            "<tr><th scope=\"row\">{}</th><td>{}</td><td>{limits}</td></tr>\n",
            escape(&n.what),
            escape(&n.why)
        );
    }
    html + "</tbody>\n</table>\n"
}

/// The figures of one stage; nothing when there are none.
pub(super) fn figures(dossier: &Dossier, stage: Stage) -> String {
    let own: Vec<_> = dossier
        .figures
        .iter()
        .filter(|f| f.evidence == stage.file())
        .collect();
    if own.is_empty() {
        return String::new();
    }
    let mut html = format!(
        "<h3>{}</h3>\n<p class=\"raw\">Raw data: <a href=\"{1}\">{1}</a></p>\n<table class=\"figures\">\n<thead><tr><th scope=\"col\">figure</th>\
         <th scope=\"col\">value</th><th scope=\"col\">over seeds</th><th scope=\"col\">spread</th></tr></thead>\n<tbody>\n",
        stage.words(),
        stage.file()
    );
    for f in own {
        let over = match f.over {
            Over::Mean => format!("mean of {}", f.seeds.len()),
            Over::Worst => format!("worst of {}", f.seeds.len()),
            Over::Nothing => "–".to_owned(),
        };
        let spread =
            crate::compare::noise::deviation(&f.seeds).map_or_else(|| "–".to_owned(), words);
        html += &format!(
            "<tr id=\"figure-{0}\"><th scope=\"row\">{0}<p class=\"from\"><code>{1}</code></p></th><td data-name=\"value\">{2}</td>\
             <td data-name=\"over seeds\">{over}</td><td data-name=\"spread\">{spread}</td></tr>\n",
            escape(&f.id),
            escape(&f.command),
            f.value
                .map_or_else(|| "no bound".to_owned(), |v| escape(&with_unit(v, &f.unit))),
        );
    }
    html + "</tbody>\n</table>\n"
}
