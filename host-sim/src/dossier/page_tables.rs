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

/// Every limit with its verdict; broken ones first, then those not demonstrated.
pub(super) fn judged(dossier: &Dossier) -> String {
    let mut html = String::from(
        "<table class=\"limits\">\n<thead><tr><th scope=\"col\">limit</th><th scope=\"col\">wanted</th><th scope=\"col\">measured</th>\
         <th scope=\"col\">margin</th><th scope=\"col\">verdict</th></tr></thead>\n<tbody>\n",
    );
    let mut sorted: Vec<&Judged> = dossier.verdicts.iter().collect();
    // Stable: within a verdict the register's order stays.
    sorted.sort_by_key(|v| v.verdict);
    for v in sorted {
        html += &row(v);
    }
    html + "</tbody>\n</table>\n"
}

fn row(v: &Judged) -> String {
    let class = match v.verdict {
        Verdict::Broken => "broken",
        Verdict::NotDemonstrated => "open",
        Verdict::ByTests => "tested",
        Verdict::Holds => "holds",
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
    let measured = match (v.measured, v.evidence.is_empty()) {
        (Some(value), _) => escape(&with_unit(value, &v.unit)),
        (None, false) => "no bound".to_owned(),
        (None, true) => "–".to_owned(),
    };
    let evidence = if v.evidence.is_empty() {
        String::new()
    } else {
        format!(
            "<a href=\"{0}\">{0}</a>, <a href=\"#figure-{1}\">{1}</a>; ",
            escape(&v.evidence),
            escape(&v.figure)
        )
    };
    let why = v.why.as_ref().map_or_else(String::new, |why| {
        if v.verdict == Verdict::ByTests {
            format!("<p>Not measured here; tests assert: {}.</p>", escape(why))
        } else {
            format!("<p class=\"why\">{}</p>", escape(why))
        }
    });
    format!(
        "<tr id=\"limit-{0}\" class=\"{class}\"><th scope=\"row\"><b>{0}</b><p>{1}</p>{why}<p class=\"from\">{evidence}<code>{2}</code></p>\
         <details><summary>Source, enforced, demonstrated</summary><p>Source: {3}.</p><p>Enforced: {4}.</p><p>Demonstrated: {5}.</p></details></th>\
         <td data-name=\"wanted\">{6} {7}</td><td data-name=\"measured\">{measured}</td><td data-name=\"margin\">{margin}</td>\
         <td class=\"mark\" data-name=\"verdict\">{8}</td></tr>\n",
        escape(&v.limit),
        escape(&v.protects),
        escape(&v.command),
        escape(&v.source),
        escape(&v.enforced.join("; ")),
        escape(&v.demonstrated.join(", ")),
        escape(&v.sense),
        escape(&with_unit(v.value, &v.unit)),
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
        "<h3>{}</h3>\n<table class=\"figures\">\n<caption>Raw data: <a href=\"{1}\">{1}</a></caption>\n<thead><tr><th scope=\"col\">figure</th>\
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
