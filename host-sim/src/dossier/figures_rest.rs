//! Figures of proofs, attacks and cores, read from their raw data.

use super::figure::{Better, BySeed, Figure, Over};
use super::figures_rides::{list, number, seed, text};
use super::run::Stage;
use crate::campaign::alarm::AlarmFigures;
use crate::campaign::case::CaseFigures;
use crate::campaign::judge::{CONTACT_MPS, Detection, Verdict};
use crate::campaign::plan::to_be_noticed_within_s;
use crate::campaign::run::Ridden;
use crate::campaign::summary::Summary;
use crate::limits::constant;
use crate::proof::answers::OUTWARD_SHARE;
use serde_json::Value;

/// A figure that no seed changes.
fn fixed(
    id: &str,
    value: f64,
    unit: &str,
    better: Better,
    evidence: &str,
    command: &str,
) -> Option<Figure> {
    let mut one = BySeed::new(better);
    one.take(0, value, command);
    one.figure(id, unit, Over::Nothing, evidence)
}

/// The proof of the travel.
pub(super) fn certificate(data: &Value) -> Vec<Figure> {
    let (found, command) = (&data["certificate"], text(&data["command"]));
    let most = |field: &str| {
        let all = list(found, "arithmetics")
            .iter()
            .map(|a| number(&a["answers"][field]));
        all.fold(f64::NAN, |m, x| if m.is_nan() { x } else { m.max(x) })
    };
    // What outward rounding itself adds is no current.
    let most = |field: &str| most(field) / (1.0 + OUTWARD_SHARE);
    let lower = |id, value, unit| {
        fixed(
            id,
            value,
            unit,
            Better::Lower,
            Stage::Certificate.file(),
            command,
        )
    };
    // A claim that does not hold bounds nothing.
    let holds = found["holds"].as_bool() == Some(true);
    let touch = if holds {
        number(&found["touch_speed_bound_mps"])
    } else {
        f64::NAN
    };
    [
        lower("certificate.touch-speed", touch, "m/s"),
        lower("certificate.current", most("current_a"), "A"),
        lower("certificate.accel", most("accel_mps2"), "m/s2"),
        fixed(
            "certificate.smallest-margin",
            number(&found["smallest_margin"]["margin_mps2"]),
            "m/s2",
            Better::Higher,
            Stage::Certificate.file(),
            command,
        ),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// Margins.
pub(super) fn margins(data: &Value) -> Vec<Figure> {
    let command = text(&data["command"]);
    let mut figures = Vec::new();
    for (part, name) in [("worst", "margins"), ("worst_drawn", "margins.random")] {
        for (field, figure, unit) in [
            ("gain_margin_up_db", "gain-up", "dB"),
            ("gain_margin_down_db", "gain-down", "dB"),
            ("phase_margin_deg", "phase", "deg"),
            ("disk_margin", "disk", "1"),
            ("delay_margin_s", "delay", "s"),
        ] {
            // Null: nothing breaks it; then there is no figure.
            let value = data[part][field].as_f64();
            let id = format!("{name}.{figure}");
            figures.extend(
                value.and_then(|v| {
                    fixed(&id, v, unit, Better::Higher, Stage::Margins.file(), command)
                }),
            );
        }
    }
    figures.extend(fixed(
        "margins.largest-pole",
        number(&data["largest_pole"]),
        "1",
        Better::Lower,
        Stage::Margins.file(),
        command,
    ));
    figures
}

/// Steps that break a claim about the modes.
pub(super) fn modes(data: &Value) -> Vec<Figure> {
    const CLAIMS: [&str; 10] = [
        "drives_disturbed",
        "limp_isolates",
        "release_raises",
        "release_drives_on",
        "authority_undriven",
        "jumps",
        "undecided",
        "dead_ends",
        "unbidden",
        "unarmed",
    ];
    let proof = &data["proof"];
    let counted: f64 = ["short", "coarse"]
        .iter()
        .flat_map(|part| CLAIMS.iter().map(move |c| number(&proof[*part][*c])))
        .sum();
    // Times that do not hold are no count of steps.
    let holds = proof["holds"].as_bool() == Some(true);
    let broken = if holds { counted } else { counted.max(1.0) };
    fixed(
        "modes.broken",
        broken,
        "count",
        Better::Lower,
        Stage::Modes.file(),
        text(&data["command"]),
    )
    .into_iter()
    .collect()
}

/// The worst that the hunt found.
pub(super) fn hunt(data: &Value) -> Vec<Figure> {
    let mut figures = Vec::new();
    let mut add = |id: &str, unit: &str, better: Better, of: &dyn Fn(&Value) -> Option<f64>| {
        let mut by_seed = BySeed::new(better);
        for hunt in list(data, "hunts") {
            for find in list(hunt, "finds") {
                if let Some(value) = of(&find["figures"]) {
                    by_seed.take(seed(hunt), value, text(&hunt["command"]));
                }
            }
        }
        figures.extend(by_seed.figure(id, unit, Over::Worst, Stage::Hunt.file()));
    };
    add("hunt.contact-speed", "m/s", Better::Lower, &|f| {
        Some(number(&f["contact_speed_mps"]))
    });
    add("hunt.seat-peak", "m/s2", Better::Lower, &|f| {
        Some(number(&f["seat_peak_mps2"]))
    });
    add("hunt.force-peak", "N", Better::Lower, &|f| {
        Some(number(&f["force_peak_n"]))
    });
    for (field, id, unit) in [
        ("floor_acceleration_mps2", "hunt.floor-acceleration", "m/s2"),
        ("floor_jerk_mps3", "hunt.floor-jerk", "m/s3"),
        ("astray_near_mps", "hunt.astray-near", "m/s"),
        ("astray_away_mps", "hunt.astray-away", "m/s"),
        ("astray_step_mps", "hunt.astray-step", "m/s"),
        ("foresight_rate_mps", "hunt.foresight-rate", "m/s"),
        ("foresight_rate_away_mps", "hunt.foresight-rate-away", "m/s"),
        ("foresight_travel_m", "hunt.foresight-travel", "m"),
        ("mass_kg", "hunt.mass", "kg"),
    ] {
        add(id, unit, Better::Lower, &|f| {
            f["assumptions"][field]["seen"].as_f64()
        });
    }
    add("hunt.set-margin", "m/s", Better::Higher, &|f| {
        f["assumptions"]["set_margin_mps"].as_f64()
    });
    figures
}

/// From when it changes the ride, or from its onset, to being noticed, s; infinite when it is missed; none where it does
/// not count.
fn noticed_s(case: &CaseFigures) -> Option<f64> {
    match case.detection() {
        Detection::Missed => Some(f64::INFINITY),
        Detection::Late | Detection::InTime => {
            let from = case.changes_after_s.unwrap_or(f64::INFINITY).max(0.0);
            let after = case.noticed_after_s? - from;
            // A drift that is noticed before it does harm has all the time.
            Some(if case.detection() == Detection::InTime {
                after.clamp(0.0, case_within(case))
            } else {
                after
            })
        }
        _ => None,
    }
}

fn case_within(case: &CaseFigures) -> f64 {
    case.entry()
        .and_then(|e| to_be_noticed_within_s(e.kind))
        .unwrap_or(f64::INFINITY)
}

/// The fault campaign.
pub(super) fn faults(data: &Value) -> Vec<Figure> {
    let lower = || BySeed::new(Better::Lower);
    let (mut contact, mut peak, mut step) = (lower(), lower(), lower());
    let (mut quick, mut slow) = (lower(), lower());
    let (mut coverage, mut alarms, mut late, mut broken) =
        (BySeed::new(Better::Higher), lower(), lower(), lower());
    for campaign in list(data, "campaigns") {
        let (seed, whole) = (seed(campaign), text(&campaign["command"]));
        let cases = serde_json::from_value::<Vec<CaseFigures>>(campaign["cases"].clone());
        let healthy = serde_json::from_value::<Vec<AlarmFigures>>(campaign["healthy"].clone());
        let (Ok(cases), Ok(healthy)) = (cases, healthy) else {
            continue;
        };
        for case in &cases {
            if !case.is_beyond() {
                contact.take(
                    seed,
                    case.law.contact_speed_mps * CONTACT_MPS / case.contact_limit_mps(),
                    &case.command,
                );
                peak.take(
                    seed,
                    case.law.peak_mps2
                        / case
                            .healthy
                            .peak_mps2
                            .max(case.passive.peak_mps2)
                            .max(1.0e-9),
                    &case.command,
                );
            }
            if let Some(size) = case.step_mps2.filter(|_| !case.step_is_beyond()) {
                step.take(seed, size, &case.command);
            }
            if let Some(after) = noticed_s(case) {
                let due = case_within(case);
                let of = if due > constant::FAULT_NOTICE {
                    &mut slow
                } else {
                    &mut quick
                };
                of.take(seed, after, &case.command);
            }
        }
        let ridden = Ridden { cases, healthy };
        let summary = Summary::of(&ridden);
        if let Some(share) = summary.coverage {
            coverage.take(seed, share, whole);
        }
        if !ridden.healthy.is_empty() {
            alarms.take(seed, f64::from(summary.false_alarms), whole);
        }
        let count = |of: &dyn Fn(&CaseFigures) -> bool| {
            ridden.cases.iter().filter(|c| of(c)).count() as f64
        };
        late.take(
            seed,
            count(&|c| matches!(c.detection(), Detection::Late | Detection::Missed)),
            whole,
        );
        broken.take(seed, count(&|c| c.verdict() == Verdict::Broken), whole);
    }
    let file = Stage::Faults.file();
    [
        contact.figure("faults.contact-speed", "m/s", Over::Worst, file),
        peak.figure("faults.peak-factor", "1", Over::Worst, file),
        step.figure("faults.step", "m/s2", Over::Worst, file),
        quick.figure("faults.notice", "s", Over::Worst, file),
        slow.figure("faults.notice-slow", "s", Over::Worst, file),
        coverage.figure("faults.coverage", "share", Over::Mean, file),
        alarms.figure("faults.false-alarms", "count", Over::Worst, file),
        late.figure("faults.late-or-missed", "count", Over::Mean, file),
        broken.figure("faults.broken-cases", "count", Over::Mean, file),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// Flipped bits.
pub(super) fn flips(data: &Value) -> Vec<Figure> {
    let (report, command) = (&data["report"], text(&data["command"]));
    // The worst field's own strike shows it, where one is broken.
    let worst = list(report, "fields")
        .first()
        .filter(|f| number(&f["broken"]) > 0.0);
    let shown = worst.map_or(command, |f| text(&f["worst"]["command"]));
    fixed(
        "bitflips.broken",
        number(&report["broken"]),
        "count",
        Better::Lower,
        Stage::Bitflips.file(),
        shown,
    )
    .into_iter()
    .collect()
}

/// Time and memory on the cores.
pub(super) fn timing(data: &Value) -> Vec<Figure> {
    let mut figures = Vec::new();
    for (id, unit, field, cores) in [
        (
            "timing.fpu-instructions",
            "instructions",
            "instructions_max",
            &["m4f", "m7"][..],
        ),
        (
            "timing.fpu-instruction-ratio",
            "1",
            "instructions_ratio",
            &["m4f", "m7"],
        ),
        (
            "timing.m3-instructions",
            "instructions",
            "instructions_max",
            &["m3"],
        ),
        ("timing.stack", "bytes", "stack_bytes", &["m4f", "m7", "m3"]),
        (
            "timing.stack-static",
            "bytes",
            "stack_bytes_static",
            &["m4f", "m7", "m3"],
        ),
        ("timing.ram", "bytes", "ram_bytes", &["m4f", "m7", "m3"]),
        ("timing.flash", "bytes", "flash_bytes", &["m4f", "m7", "m3"]),
        (
            "timing.recorder-instructions",
            "instructions",
            "recorder_instructions_max",
            &["m4f", "m7", "m3"],
        ),
        (
            "timing.recorder-ram",
            "bytes",
            "recorder_bytes",
            &["m4f", "m7", "m3"],
        ),
    ] {
        let mut one = BySeed::new(Better::Lower);
        for core in list(data, "cores")
            .iter()
            .filter(|c| cores.contains(&text(&c["core"]["name"])))
        {
            let value = list(core, "fields")
                .iter()
                .find(|f| text(&f["name"]) == field);
            one.take(
                0,
                value.map_or(f64::NAN, |f| number(&f["value"])),
                text(&core["command"]),
            );
        }
        figures.extend(one.figure(id, unit, Over::Nothing, Stage::Timing.file()));
    }
    figures
}

/// Stretches on which a core answers otherwise.
pub(super) fn parity(data: &Value) -> Vec<Figure> {
    let rows = list(data, "stretches");
    if rows.is_empty() {
        return Vec::new();
    }
    let differ = rows
        .iter()
        .filter(|r| r["same"].as_bool() != Some(true))
        .count();
    fixed(
        "parity.differences",
        differ as f64,
        "count",
        Better::Lower,
        Stage::Parity.file(),
        text(&data["command"]),
    )
    .into_iter()
    .collect()
}
