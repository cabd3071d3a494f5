//! The tables of the report.

use super::alarm::AlarmFigures;
use super::case::{CaseFigures, Seat};
use super::judge::Verdict;
use super::page::needs_work;
use super::plan::{Plan, to_be_noticed_within_s};
use super::summary::{Roll, Summary, coverage_class};
use crate::report::escape;

/// A verdict as a coloured sign.
pub(super) fn sign(verdict: Verdict) -> String {
    let class = match verdict {
        Verdict::Held => 'H',
        Verdict::Harmless => 'N',
        other => other.sign(),
    };
    format!("<span class=\"s s{class}\">{}</span>", verdict.sign())
}

/// A table: caption, heads (those that begin with `<` are aligned left), rows of cells that are HTML already.
fn table(class: &str, caption: &str, heads: &[&str], rows: &[Vec<String>]) -> String {
    let left = |n: usize| heads.get(n).is_some_and(|h| h.starts_with('<'));
    let mut html = format!(
        "<div class=\"wide\">\n<table class=\"{class}\">\n<caption>{}</caption>\n<thead><tr>",
        escape(caption)
    );
    for (n, head) in heads.iter().enumerate() {
        let align = if left(n) { " class=\"t\"" } else { "" };
        html += &format!(
            "<th scope=\"col\"{align}>{}</th>",
            escape(head.trim_start_matches('<'))
        );
    }
    html += "</tr></thead>\n<tbody>\n";
    for row in rows {
        html += "<tr>";
        for (n, cell) in row.iter().enumerate() {
            html += &match n {
                0 => format!("<th scope=\"row\">{cell}</th>"),
                n if left(n) => format!("<td class=\"t\">{cell}</td>"),
                _ => format!("<td>{cell}</td>"),
            };
        }
        html += "</tr>\n";
    }
    html + "</tbody>\n</table>\n</div>\n"
}

fn ms(seconds: Option<f64>) -> String {
    seconds.map_or_else(|| "-".to_owned(), |s| format!("{:.0}", 1000.0 * s))
}

fn code(command: &str) -> String {
    format!("<code>{}</code>", escape(command))
}

fn seat(seat: &Seat) -> String {
    format!("{:.2} / {:.1}", seat.contact_speed_mps, seat.peak_mps2)
}

fn place(case: &CaseFigures) -> String {
    escape(&format!(
        "{} x{}, {} kg, {} s",
        case.floor, case.level, case.occupant_kg, case.onset_s
    ))
}

/// Faults by floors and levels.
pub(super) fn matrix(plan: &Plan, rolls: &[Roll<'_>]) -> String {
    let places: Vec<(&String, f64)> = plan
        .floors
        .iter()
        .flat_map(|f| plan.levels.iter().map(move |l| (f, *l)))
        .collect();
    let titles: Vec<String> = places.iter().map(|(f, l)| format!("{f} x{l}")).collect();
    let mut heads = vec!["fault", "<class"];
    heads.extend(titles.iter().map(String::as_str));
    let row = |roll: &Roll<'_>| {
        let mut row = vec![
            escape(&roll.entry.name),
            roll.entry.kind.class().name().to_owned(),
        ];
        let cells = places
            .iter()
            .map(|(f, l)| roll.cell(f, *l).map_or_else(String::new, sign));
        row.extend(cells);
        row
    };
    let rows: Vec<Vec<String>> = rolls.iter().map(row).collect();
    table(
        "matrix",
        "The worst verdict of all occupants and onsets, by floor and level",
        &heads,
        &rows,
    )
}

/// The worst case of each fault that misses a target.
pub(super) fn worst(sorted: &[&CaseFigures], rolls: &[Roll<'_>]) -> String {
    let those = sorted.iter().filter(|c| needs_work(c.verdict()));
    let like_it = |c: &CaseFigures| {
        let roll = rolls.iter().find(|r| r.entry.name == c.fault)?;
        let count = roll
            .cases
            .iter()
            .filter(|c| needs_work(c.verdict()))
            .count();
        Some(format!("{count} of {}", roll.cases.len()))
    };
    let row = |c: &&CaseFigures| {
        vec![
            format!("{} {}", sign(c.verdict()), escape(&c.fault)),
            like_it(c).unwrap_or_default(),
            place(c),
            seat(&c.law),
            format!("{:.2} / {:.1}", c.contact_limit_mps(), c.peak_limit_mps2()),
            seat(&c.unreacting),
            c.motor_open.as_ref().map_or_else(String::new, seat),
            c.motor_shorted.as_ref().map_or_else(String::new, seat),
            ms(c.noticed_after_s),
            ms(c.reaction_s),
            c.step_mps2
                .map_or_else(|| "-".to_owned(), |s| format!("{s:.1}")),
            escape(&c.mode),
            code(&c.command),
        ]
    };
    let rows: Vec<Vec<String>> = those.map(row).collect();
    if rows.is_empty() {
        return "<p>No case misses a target.</p>\n".to_owned();
    }
    table(
        "",
        "Contact in m/s / peak in m/s2; times in ms. Unreacting: the firmware deaf to its faults. Motor off: from the onset \
         on, windings open and shorted",
        &[
            "fault",
            "cases that miss a target",
            "<where and when",
            "with the law",
            "limits",
            "unreacting",
            "motor off, open",
            "shorted",
            "noticed",
            "reaction",
            "step, m/s2",
            "<mode",
            "<command",
        ],
        &rows,
    )
}

/// Cases whose limits no firmware could hold: the worst of each fault.
pub(super) fn beyond(rolls: &[Roll<'_>]) -> String {
    let row = |roll: &Roll<'_>| {
        let those: Vec<&&CaseFigures> = roll.cases.iter().filter(|c| c.is_beyond()).collect();
        let worst = those
            .iter()
            .max_by(|a, b| a.share_of_limit().total_cmp(&b.share_of_limit()))?;
        Some(vec![
            escape(&roll.entry.name),
            those.len().to_string(),
            place(worst),
            seat(&worst.law),
            seat(&worst.out_of_reach()),
            format!(
                "{:.2} / {:.1}",
                worst.contact_limit_mps(),
                worst.peak_limit_mps2()
            ),
            (worst.step_mps2.zip(worst.let_go_mps2)).map_or_else(
                || "-".to_owned(),
                |(step, least)| format!("{step:.1} / {least:.1}"),
            ),
            code(&worst.command),
        ])
    };
    let rows: Vec<Vec<String>> = rolls.iter().filter_map(row).collect();
    if rows.is_empty() {
        return "<p>No such case.</p>\n".to_owned();
    }
    table(
        "",
        "A limit is broken, and the best that any firmware could do breaks it too. Contact in m/s / peak in m/s2 of the worst \
         case of each fault; step at the reaction in m/s2 and the least that letting the motor go makes, where it is too large. None \
         of these counts as held",
        &[
            "fault",
            "cases",
            "<worst",
            "with the law",
            "best possible",
            "limits",
            "step / least",
            "<command",
        ],
        &rows,
    )
}

/// Coverage by class of fault.
pub(super) fn classes(summary: &Summary) -> String {
    let rows: Vec<Vec<String>> = summary
        .classes
        .iter()
        .map(|c| {
            vec![
                c.class.to_owned(),
                format!("{}", c.weight),
                c.cases.to_string(),
                c.dangerous.to_string(),
                c.detected.to_string(),
                c.at_once.to_string(),
                c.coverage.map_or_else(
                    || "none dangerous".to_owned(),
                    |x| format!("{:.1} %", 100.0 * x),
                ),
                c.coverage.map_or("-", coverage_class).to_owned(),
            ]
        })
        .collect();
    table(
        "",
        "Coverage by class of fault. The weights are invented: failure rates of a class as a whole, in parts of 100",
        &[
            "class of fault",
            "weight (invented)",
            "cases",
            "dangerous",
            "covered",
            "held if told at once",
            "coverage",
            "class of ISO 13849-1",
        ],
        &rows,
    )
}

/// Detection and reaction.
pub(super) fn times(rolls: &[Roll<'_>]) -> String {
    let row = |roll: &Roll<'_>| {
        let latest = roll.largest(|c| c.noticed_after_s)?;
        let of = |n: usize| format!("{n} of {}", roll.cases.len());
        let handled = roll.largest(|c| Some(c.noticed_after_s? + c.reaction_s?));
        Some(vec![
            escape(&roll.entry.name),
            of(roll
                .cases
                .iter()
                .filter(|c| c.noticed_after_s.is_some())
                .count()),
            to_be_noticed_within_s(roll.entry.kind)
                .map_or_else(|| "not asked".to_owned(), |s| ms(Some(s))),
            ms(Some(latest)),
            ms(roll.largest(CaseFigures::noticed_after_effect_s)),
            ms(roll.largest(|c| c.reaction_s)),
            ms(handled),
            ms(roll.least(|c| c.breaks_after_s)),
        ])
    };
    let rows: Vec<Vec<String>> = rolls.iter().filter_map(row).collect();
    table(
        "",
        "The longest of all cases, ms; of the FTTI the shortest. After the effect: negative when noticed before the ride \
         changes. Faults that were never noticed are left out",
        &[
            "fault",
            "noticed in",
            "asked for",
            "FDTI",
            "after the effect",
            "FRTI",
            "FHTI = FDTI + FRTI",
            "FTTI, least, without reaction",
        ],
        &rows,
    )
}

/// Every fault with its measured effects.
pub(super) fn fmea(rolls: &[Roll<'_>]) -> String {
    let mut sorted: Vec<&Roll<'_>> = rolls.iter().collect();
    sorted.sort_by(|a, b| {
        let (a, b) = (a.cases[0], b.cases[0]);
        let larger_first = b.share_of_limit().total_cmp(&a.share_of_limit());
        a.verdict().cmp(&b.verdict()).then(larger_first)
    });
    let row = |roll: &&Roll<'_>| {
        let worst = roll.cases[0];
        let most = |of: fn(&CaseFigures) -> f64| roll.largest(|c| Some(of(c))).unwrap_or(0.0);
        let mut noticed: Vec<&str> = Vec::new();
        let mut modes: Vec<&str> = Vec::new();
        for case in &roll.cases {
            for word in &case.noticed_as {
                if !noticed.contains(&word.as_str()) {
                    noticed.push(word);
                }
            }
            if case.reaction_s.is_some() && !modes.contains(&case.mode.as_str()) {
                modes.push(&case.mode);
            }
        }
        let seen = roll
            .cases
            .iter()
            .filter(|c| c.noticed_after_s.is_some())
            .count();
        let list = |words: Vec<&str>, none: &str| {
            if words.is_empty() {
                none.to_owned()
            } else {
                words.join(", ")
            }
        };
        let results = Verdict::ALL
            .iter()
            .filter(|v| roll.count(**v) > 0)
            .map(|v| format!("{} {}", sign(*v), roll.count(*v)))
            .collect::<Vec<_>>()
            .join(" ");
        vec![
            escape(&roll.entry.name),
            roll.entry.kind.class().name().to_owned(),
            escape(&roll.entry.about),
            escape(&format!(
                "seat off by up to {:.1} m/s2 and {:.0} mm/s; contact up to {:.2} m/s, peak up to {:.1} m/s2; dangerous in \
                 {} of {}",
                most(|c| c.change_mps2),
                1000.0 * most(|c| c.change_mps),
                most(|c| c.unreacting.contact_speed_mps),
                most(|c| c.unreacting.peak_mps2),
                roll.cases.iter().filter(|c| c.is_dangerous()).count(),
                roll.cases.len()
            )),
            escape(&match roll.largest(|c| c.noticed_after_s) {
                None => "not noticed".to_owned(),
                Some(s) => format!(
                    "{} in {seen} of {}, the latest after {:.0} ms",
                    list(noticed, "by mode"),
                    roll.cases.len(),
                    1000.0 * s
                ),
            }),
            escape(&list(modes, "none")),
            escape(&worst.why()),
            results,
            code(&worst.command),
        ]
    };
    let rows: Vec<Vec<String>> = sorted.iter().map(row).collect();
    table(
        "",
        "One row a fault, the worst verdicts first. Every figure was measured in this campaign. It is evidence for an \
         assessment, not an assessment: severities, rates and acceptance are for qualified people to set",
        &[
            "failure mode",
            "<item",
            "<what fails",
            "<effect without reaction",
            "<detection",
            "<reaction",
            "<worst case with the law",
            "<results",
            "<command",
        ],
        &rows,
    )
}

/// Faults with cases that were not noticed and do not change the ride: the one that comes nearest to changing it.
pub(super) fn harmless(rolls: &[Roll<'_>]) -> String {
    let row = |roll: &Roll<'_>| {
        let those = || {
            roll.cases
                .iter()
                .filter(|c| c.verdict() == Verdict::Harmless)
        };
        let nearest = those().max_by(|a, b| a.change_mps2.total_cmp(&b.change_mps2))?;
        Some(vec![
            escape(&roll.entry.name),
            those().count().to_string(),
            place(nearest),
            escape(&nearest.why()),
            code(&nearest.command),
        ])
    };
    let rows: Vec<Vec<String>> = rolls.iter().filter_map(row).collect();
    if rows.is_empty() {
        return "<p>No such case.</p>\n".to_owned();
    }
    table(
        "",
        "Of each fault the case whose seat differs most from the healthy ride",
        &[
            "fault",
            "cases",
            "<nearest to a change",
            "<why it is safe",
            "<command",
        ],
        &rows,
    )
}

/// The healthy rides.
pub(super) fn alarms(healthy: &[AlarmFigures]) -> String {
    let hours = healthy.iter().map(|ride| ride.seconds).sum::<f64>() / 3600.0;
    let rows: Vec<Vec<String>> = healthy
        .iter()
        .filter(|ride| ride.alarms > 0)
        .map(|ride| {
            vec![
                escape(&ride.first_as.join(", ")),
                ride.first_s.map_or_else(String::new, |s| format!("{s:.3}")),
                ride.alarms.to_string(),
                code(&ride.command),
            ]
        })
        .collect();
    let text = format!(
        "<p>{} healthy rides, {hours:.2} h, over hauler, loader, grader, compact, crawler, ballast and edge at levels 1 and \
         2.5, occupants of 40, 80 and 130 kg.</p>\n",
        healthy.len()
    );
    if rows.is_empty() {
        return text + "<p>No fault bit was set.</p>\n";
    }
    text + &table(
        "",
        "Rides in which a fault bit was set",
        &["first bit", "at, s", "bits set", "<command"],
        &rows,
    )
}
