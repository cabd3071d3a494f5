//! The table of `becalm hunt`.

use super::hunt::{Record, words};
use super::words::number;
use host_sim::hunt::Aim;

/// Unit of an aim's figure in the table, its factor from SI, and digits.
const fn unit(aim: Aim) -> (&'static str, f64, usize) {
    match aim {
        Aim::Contact => ("m/s", 1.0, 3),
        Aim::Seat => ("m/s2", 1.0, 1),
        Aim::Force => ("N", 1.0, 0),
        Aim::ForesightTravel => ("mm", 1000.0, 3),
        Aim::AstrayNear
        | Aim::AstrayAway
        | Aim::AstrayStep
        | Aim::ForesightRate
        | Aim::ForesightRateAway
        | Aim::Set => ("mm/s", 1000.0, 1),
    }
}

/// The table, and what it means.
pub(super) fn table(record: &Record) -> String {
    let bounds = &record.bounds;
    let mut text = format!(
        "Worst floors within {} m/s2 and {} m/s3, occupants of {} to {} kg{}\n\n",
        number(bounds.floor_accel_mps2),
        number(bounds.floor_jerk_mps3),
        bounds.occupant_min_kg,
        bounds.occupant_max_kg,
        if record.arrest {
            ""
        } else {
            ", without arrest"
        }
    );
    text += "                                      at a stop  travel   seat\n";
    text += "driven up           worst     limit         m/s      mm   m/s2  occupant\n";
    for find in &record.finds {
        let (f, aim) = (&find.figures, find.aim);
        let (unit, factor, digits) = unit(aim);
        let limit = match aim {
            Aim::Contact => Some(record.limits.contact_speed_mps),
            Aim::Seat => record.limits.seat_peak_mps2,
            Aim::Force => record.limits.force_peak_n,
            Aim::Set => Some(0.0),
            _ => aim.assumed(&record.claim),
        };
        let shown = |x: f64| format!("{:.digits$}", factor * x);
        text += &format!(
            "{:<17}{:>8}{:>10} {unit:<5}{:>9.3}{:>8.1}{:>7.1}  {} kg {}\n",
            aim.name(),
            shown(aim.figure(f)),
            limit.map_or_else(|| "-".to_owned(), shown),
            f.contact_speed_mps,
            1000.0 * f.travel_peak_m,
            f.seat_peak_mps2,
            find.machine.occupant_kg,
            find.machine.body.name()
        );
    }
    text += &format!("\n{} rides, seed {}.\n", record.evaluations, record.seed);
    if !record.within_claim {
        text += "Floor or occupants pass the bounds of the proof: nothing is claimed for them.\n";
    }
    for b in &record.broken {
        text += &format!("Broken: {}\n", words(b));
    }
    if record.broken.iter().any(|b| b.outside_certificate) {
        text +=
            "Outside the certificate: what is proved of the travel does not cover such a ride.\n";
    }
    for find in &record.finds {
        if let Some(file) = &find.scenario_file {
            text += &format!("Written: {file}\n");
        }
    }
    text
}
