//! The tables of `becalm faults`.

use super::words::{labelled, number, wrap};
use host_sim::campaign::judge::Verdict;
use host_sim::campaign::plan::Plan;
use host_sim::campaign::run::Ridden;
use host_sim::campaign::summary::{COVERAGE, Roll, Summary, coverage_class};

const WIDTH: usize = 80;

/// The matrix, the worst cases, coverage, false alarms.
pub(super) fn table(plan: &Plan, ridden: &Ridden, summary: &Summary) -> String {
    let mut text = format!("Fault campaign: {} cases\n\n", summary.cases);
    text += &matrix(plan, ridden);
    text += &verdicts(summary);
    text += &worst(summary);
    text += &coverage(summary);
    text += &alarms(ridden, summary);
    text
}

fn ms(seconds: Option<f64>) -> String {
    seconds.map_or_else(|| "-".to_owned(), |s| format!("{:.0}", 1000.0 * s))
}

fn matrix(plan: &Plan, ridden: &Ridden) -> String {
    let places: Vec<(&str, f64)> = plan
        .floors
        .iter()
        .flat_map(|f| plan.levels.iter().map(move |l| (f.as_str(), *l)))
        .collect();
    let mut text = "Worst of occupants and onsets, by floor and level:\n".to_owned();
    for (n, (floor, level)) in places.iter().enumerate() {
        text += &format!("{}{} {floor} x{level}\n", " ".repeat(28), letter(n));
    }
    let letters: String = (0..places.len())
        .map(|n| format!(" {}", letter(n)))
        .collect();
    text += &format!(
        "{:<32}{letters}  noticed,   times  broken\n{:<32}{}  last, ms   limit   cases\n",
        "",
        "",
        " ".repeat(letters.len())
    );
    let mut class = None;
    for roll in Roll::all(&ridden.cases, &plan.faults) {
        if class != Some(roll.entry.kind.class()) {
            class = Some(roll.entry.kind.class());
            text += &format!("{}\n", roll.entry.kind.class().name().to_uppercase());
        }
        let signs: String = places
            .iter()
            .map(|(f, l)| format!(" {}", roll.cell(f, *l).map_or(' ', Verdict::sign)))
            .collect();
        text += &format!(
            "  {:<30}{signs} {:>9}{:>8.1}{:>8}\n",
            roll.entry.name,
            ms(roll.largest(|c| c.noticed_after_s)),
            roll.largest(|c| Some(c.share_of_limit())).unwrap_or(0.0),
            roll.count(Verdict::Broken),
        );
    }
    text
}

/// A letter for a column.
fn letter(n: usize) -> char {
    char::from(b'a' + (n % 26) as u8)
}

fn verdicts(summary: &Summary) -> String {
    let mut text = "\n".to_owned();
    for (verdict, count) in &summary.verdicts {
        text += &format!("{count:>7}  {}  {}\n", verdict.sign(), verdict.words());
    }
    text
}

fn worst(summary: &Summary) -> String {
    let mut text =
        "\nThe worst case of each of the worst faults, with the command that rides it\n".to_owned();
    for case in &summary.worst {
        let words = format!(
            "{} on {} x{}, {} kg: contact {} m/s (limit {}), peak {} m/s2 (limit {}), {}, reaction {} ms",
            case.fault,
            case.floor,
            case.level,
            case.occupant_kg,
            number(case.contact_speed_mps),
            number(case.contact_limit_mps),
            number(case.peak_mps2),
            number(case.peak_limit_mps2),
            match case.detection_s {
                Some(_) => format!("noticed after {} ms", ms(case.detection_s)),
                None => "not noticed".to_owned(),
            },
            ms(case.reaction_s),
        );
        text += &labelled(&format!("{} ", case.verdict.sign()), &words, WIDTH);
        text += &format!("    {}\n", case.command);
    }
    text
}

fn percent(share: Option<f64>) -> String {
    share.map_or_else(
        || "none dangerous".to_owned(),
        |s| format!("{:.1} % ({})", 100.0 * s, coverage_class(s)),
    )
}

fn coverage(summary: &Summary) -> String {
    let mut text = "\nDiagnostic coverage (classes of ISO 13849-1; weights invented)\n\
                    class       weight   cases  dangerous  detected  at once  coverage\n"
        .to_owned();
    for class in &summary.classes {
        text += &format!(
            "{:<12}{:>6}{:>8}{:>11}{:>10}{:>9}  {}\n",
            class.class,
            class.weight,
            class.cases,
            class.dangerous,
            class.detected,
            class.at_once,
            percent(class.coverage)
        );
    }
    text += &format!(
        "{:<12}{:>14}{:>11}{:>10}{:>9}  {}\n",
        "all",
        summary.cases,
        summary.dangerous,
        summary.dangerous_detected,
        summary.classes.iter().map(|c| c.at_once).sum::<usize>(),
        percent(summary.coverage)
    );
    text += &wrap(
        &format!(
            "Detected: in time, with the limits held or beyond any firmware; with the limits held alone {}. At once: the \
             same, or an answer of the firmware in the period of the onset would hold contact and peak; so better detection \
             alone reaches {}. Asked for: {} %.",
            percent(summary.coverage_limits_held),
            percent(summary.coverage_at_once),
            100.0 * COVERAGE
        ),
        "",
        WIDTH,
    );
    text
}

fn alarms(ridden: &Ridden, summary: &Summary) -> String {
    let mut text = format!(
        "\nFalse alarms: {} in {} h of healthy riding\n",
        summary.false_alarms,
        number(summary.false_alarm_hours)
    );
    for ride in ridden.healthy.iter().filter(|ride| ride.alarms > 0).take(5) {
        text += &format!(
            "  {} at {} s: {}\n",
            ride.first_as.join(", "),
            number(ride.first_s.unwrap_or(0.0)),
            ride.command
        );
    }
    text
}
