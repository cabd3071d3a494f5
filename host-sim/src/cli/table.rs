//! The table of a ride: 80 columns, no colour.

use super::fault_list;
use super::record::{LawFigures, RideRecord};
use super::words::{daily_time, labelled, number, wrap};
use host_sim::exposure::daily::{
    ACTION_A8_MPS2, LIMIT_A8_MPS2, seconds_to_action, seconds_to_limit,
};
use host_sim::ride::RideSpec;
use host_sim::rig::Rig;
use host_sim::summary::{SeatFigures, Summary, TravelFigures};

const WIDTH: usize = 80;

/// Rows with a label and up to three values.
struct Rows {
    text: String,
    passive_alone: bool,
}

impl Rows {
    fn row(
        &mut self,
        label: &str,
        floor: Option<String>,
        passive: Option<String>,
        law: Option<String>,
    ) {
        let mut cells = vec![floor, passive];
        if !self.passive_alone {
            cells.push(law);
        }
        if cells.iter().all(Option::is_none) {
            return;
        }
        let mut line = format!("{label:<35}");
        for cell in cells {
            line += &format!("{:>15}", cell.unwrap_or_default());
        }
        self.text += line.trim_end();
        self.text.push('\n');
    }

    fn head(&mut self, title: &str) {
        self.text += &format!("\n{title}\n");
    }

    /// A figure of both seats.
    fn seats(&mut self, label: &str, passive: f64, law: f64) {
        self.row(label, None, Some(number(passive)), Some(number(law)));
    }
}

/// The whole text of a ride: what was ridden, the table, and why.
pub(super) fn ride(record: &RideRecord, rig: &Rig, spec: &RideSpec) -> String {
    let s = record.summary();
    let mut rows = Rows {
        text: heading(record, rig, spec),
        passive_alone: record.law().is_none(),
    };
    rows.text.push('\n');
    let head = |text: &str| Some(text.to_owned());
    rows.row(
        "",
        head("floor"),
        head("passive seat"),
        head("with the law"),
    );
    vibration(&mut rows, s);
    day(&mut rows, s);
    travel(&mut rows, s);
    if let Some(law) = record.law() {
        possible(&mut rows, s);
        machine(&mut rows, s);
        rows.text += &fault_list::noticed(&s.faults);
        rows.text.push('\n');
        rows.text += &labelled("Why: ", &why(s, law), WIDTH);
    }
    rows.text += &format!(
        "The bench ran at {} times real time, in one thread.\n",
        number(s.real_time_factor)
    );
    rows.text
}

fn heading(record: &RideRecord, rig: &Rig, spec: &RideSpec) -> String {
    let s = record.summary();
    let who = if s.occupant_kg > 0.0 {
        format!("{} kg occupant, {} body", s.occupant_kg, s.body)
    } else {
        "nobody on the seat".to_owned()
    };
    let later = match spec.changes.len() {
        0 => String::new(),
        1 => ", 1 change on the way".to_owned(),
        n => format!(", {n} changes on the way"),
    };
    let mut text = wrap(
        &format!(
            "Ride on {}, level {}, seed {}: {:.1} s, the first {:.1} s left out",
            s.floor.name, s.floor.level, s.seed, s.seconds, s.skipped_s
        ),
        "",
        WIDTH,
    );
    let law = match record.law() {
        Some(_) => format!("law in {}", s.arithmetic),
        None => "passive seat alone".to_owned(),
    };
    text += &wrap(&format!("{who}{later}; {law}"), "", WIDTH);
    text + &wrap(&format!("Rig: {}", rig.name), "", WIDTH)
}

fn vibration(rows: &mut Rows, s: &Summary) {
    let (floor, passive, seat) = (&s.floor, &s.passive, &s.seat);
    let ratio = |x: Option<f64>| Some(x.map_or_else(|| "-".to_owned(), number));
    let all = |rows: &mut Rows, label: &str, f: f64, pick: fn(&SeatFigures) -> f64| {
        rows.row(
            label,
            Some(number(f)),
            Some(number(pick(passive))),
            Some(number(pick(seat))),
        );
    };
    rows.head("Vertical vibration (ISO 2631-1, weighting Wk)");
    all(
        rows,
        "  weighted r.m.s., m/s2",
        floor.weighted_rms_mps2,
        |x| x.weighted_rms_mps2,
    );
    all(rows, "  dose value VDV, m/s^1.75", floor.vdv_mps175, |x| {
        x.vdv_mps175
    });
    rows.seats(
        "  running maximum MTVV, m/s2",
        passive.mtvv_mps2,
        seat.mtvv_mps2,
    );
    rows.row(
        "  crest factor",
        None,
        ratio(passive.crest_factor),
        ratio(seat.crest_factor),
    );
    all(rows, "  peak, unweighted, m/s2", floor.peak_mps2, |x| {
        x.peak_mps2
    });
    rows.seats("  spinal stress Sd, MPa", passive.sd_mpa, seat.sd_mpa);
    rows.row(
        "  SEAT value, r.m.s.",
        None,
        ratio(s.seat_value_passive),
        ratio(s.seat_value),
    );
    let passive_vdv = (floor.vdv_mps175 > 0.0).then(|| passive.vdv_mps175 / floor.vdv_mps175);
    rows.row(
        "  SEAT value, VDV",
        None,
        ratio(passive_vdv),
        ratio(s.seat_value_vdv),
    );
}

fn day(rows: &mut Rows, s: &Summary) {
    let levels = [
        s.floor.weighted_rms_mps2,
        s.passive.weighted_rms_mps2,
        s.seat.weighted_rms_mps2,
    ];
    rows.head("Daily exposure (Directive 2002/44/EC)");
    let mut each = |label: &str, text: fn(f64) -> String| {
        let [floor, passive, law] = levels.map(|x| Some(text(x)));
        rows.row(label, floor, passive, law);
    };
    each("  A(8) of 8 h, m/s2", number);
    each(
        &format!("  time to action value {ACTION_A8_MPS2} m/s2"),
        |x| daily_time(seconds_to_action(x).ok().flatten()),
    );
    each(
        &format!("  time to limit value {LIMIT_A8_MPS2} m/s2"),
        |x| daily_time(seconds_to_limit(x).ok().flatten()),
    );
}

fn travel(rows: &mut Rows, s: &Summary) {
    let (passive, law) = (&s.passive_travel, &s.travel);
    rows.head("Travel");
    rows.seats("  peak, mm", 1000.0 * passive.peak_m, 1000.0 * law.peak_m);
    rows.seats("  r.m.s., mm", 1000.0 * passive.rms_m, 1000.0 * law.rms_m);
    rows.row(
        "  stop contacts",
        None,
        Some(passive.stop_contacts.to_string()),
        Some(law.stop_contacts.to_string()),
    );
    rows.seats(
        "  hardest contact, m/s",
        passive.contact_speed_max_mps,
        law.contact_speed_max_mps,
    );
}

/// The bound, where it was worked out.
fn possible(rows: &mut Rows, s: &Summary) {
    let Some(bound) = &s.bound else {
        return;
    };
    let dash = || "-".to_owned();
    rows.head("Possible at all (ideal seat that knows the floor in advance; see becalm bound)");
    let mut law = |label: &str, text: String| rows.row(label, None, None, Some(text));
    law(
        "  least SEAT value, r.m.s.",
        bound.seat_value.map_or_else(dash, number),
    );
    law("  least peak, unweighted, m/s2", number(bound.peak_mps2));
    law(
        "  share of the possible, SEAT, %",
        s.share_of_possible
            .map_or_else(dash, |share| number(100.0 * share)),
    );
}

fn machine(rows: &mut Rows, s: &Summary) {
    let pair = |a: f64, b: f64| format!("{} / {}", number(a), number(b));
    let (a, e) = (&s.actuator, &s.estimate);
    rows.head("Actuator and estimates");
    let mut law = |label: &str, text: String| rows.row(label, None, None, Some(text));
    law(
        "  force, r.m.s. / peak, N",
        pair(a.force_rms_n, a.force_peak_n),
    );
    law(
        "  electrical power, mean / peak, W",
        pair(a.electrical_power_mean_w, a.electrical_power_peak_w),
    );
    law("  coil at most, deg C", number(a.coil_temperature_max_c));
    law(
        "  travel rate error, mm/s r.m.s.",
        number(1000.0 * e.travel_rate_rms_error_mps),
    );
    law(
        "  floor velocity error, mm/s r.m.s.",
        number(1000.0 * e.floor_velocity_rms_error_mps),
    );
    law(
        "  mass error at the end, %",
        format!("{:+.1}", 100.0 * e.mass_error_fraction),
    );
}

/// One reading of the figures, from what the law was seen to do.
fn why(s: &Summary, law: &LawFigures) -> String {
    let percent = |share: f64| {
        let p = 100.0 * share;
        if p > 0.0 && p < 0.95 {
            format!("{p:.1} %")
        } else {
            format!("{p:.0} %")
        }
    };
    let stops = |t: &TravelFigures| match t.stop_contacts {
        0 => "met no stop".to_owned(),
        1 => format!("met a stop once, at {:.2} m/s", t.contact_speed_max_mps),
        n => format!(
            "met a stop {n} times, at up to {:.2} m/s",
            t.contact_speed_max_mps
        ),
    };
    let mut text = format!(
        "the law used {} of the travel to either side, braked for its end {} of the time and {}; \
         the passive seat {}. The force reached {} of what the motor has.",
        percent(law.travel_share),
        percent(law.arrest_share),
        stops(&s.travel),
        stops(&s.passive_travel),
        percent(law.force_share),
    );
    if law.isolating_share < 0.9995 {
        text += &format!(
            " The law isolated {} of the time.",
            percent(law.isolating_share)
        );
    }
    if law.derated_share > 0.0 {
        text += &format!(
            " Heat held the current back {} of the time.",
            percent(law.derated_share)
        );
    }
    if let Some(fault) = &law.latched_fault {
        text += &format!(" A fault was latched: {fault}.");
    }
    text += &proof(s);
    text
}

/// Whether the ride was one that the proof of the travel covers.
fn proof(s: &Summary) -> String {
    let a = &s.assumptions;
    if a.held {
        return " The ride kept within the assumptions of the proof of the travel (becalm certify \
                tells whether this rig has one)."
            .to_owned();
    }
    let beyond: Vec<String> = a
        .all()
        .iter()
        .filter(|a| !a.bounded.holds())
        .map(|a| {
            format!(
                "{} {} of {} {}",
                a.words,
                number(a.scale * a.bounded.seen),
                number(a.scale * a.bounded.assumed),
                a.unit
            )
        })
        .collect();
    format!(
        " The proof of the travel does not cover it: {}.",
        beyond.join(", ")
    )
}
