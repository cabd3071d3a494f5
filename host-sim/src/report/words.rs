//! Sentences: the verdict, how each figure is computed, and the cautions.

use super::collector::Collected;
use crate::exposure::daily::{ACTION_A8_MPS2, LIMIT_A8_MPS2, seconds_to_action, seconds_to_limit};
use crate::floor::{Origin, catalogue};
use crate::summary::Summary;

/// A day and a night, s.
const DAY_S: f64 = 24.0 * 3600.0;

/// Where the ridden floor comes from, in words.
pub(super) fn floor_origin(name: &str) -> String {
    let base = name.split(':').next().unwrap_or(name);
    let entry = catalogue()
        .ok()
        .and_then(|all| all.into_iter().find(|e| e.name == base));
    let Some(entry) = entry else {
        return "recording".to_owned();
    };
    let about = entry.about.replace("^2", "²").replace("m/s2", "m/s²");
    match entry.origin {
        Origin::Invented => format!("{about} (invented; no real machine)"),
        Origin::TestSignal => format!("test signal: {about}"),
        Origin::Standard(source) => format!("{about} (after {source})"),
    }
}

/// What the ride showed, in a few plain sentences.
pub(super) fn verdict(summary: &Summary) -> Vec<String> {
    let mut sentences = vec![comparison(summary)];
    sentences.extend(possible(summary));
    sentences.extend([
        stops(summary),
        format!(
            "The largest acceleration was {:.2} m/s² on the floor, {:.2} m/s² on the passive seat \
             and {:.2} m/s² on the seat under the law.",
            summary.floor.peak_mps2, summary.passive.peak_mps2, summary.seat.peak_mps2
        ),
        directive(summary),
    ]);
    sentences
}

/// How far the law is from what is possible at all, where that was worked out.
fn possible(summary: &Summary) -> Option<String> {
    let bound = summary.bound?.seat_value?;
    let share = match summary.share_of_possible {
        Some(share) if share >= 0.0 => format!(
            "; the law took {:.0} % of the way from the passive seat to there",
            100.0 * share
        ),
        _ => String::new(),
    };
    Some(format!(
        "An ideal seat with the same travel that knew the whole floor in advance would let through \
         {bound:.3}{share}. No real seat reaches that."
    ))
}

fn comparison(summary: &Summary) -> String {
    let (Some(law), Some(passive)) = (summary.seat_value, summary.seat_value_passive) else {
        return "The floor was still: there was no vibration to keep from the seat.".to_owned();
    };
    let judged = if law < 0.98 * passive {
        format!(
            "The law let through {law:.3} of the floor's weighted vibration; the passive seat let \
             through {passive:.3}."
        )
    } else if law > 1.02 * passive {
        format!(
            "The law did worse than the passive seat: {law:.3} of the floor's weighted vibration \
             reached the seat, against {passive:.3}."
        )
    } else {
        format!(
            "The law did about as well as the passive seat: {law:.3} of the floor's weighted \
             vibration reached the seat, against {passive:.3}."
        )
    };
    let harm = if law > 1.0 {
        " More reached the seat than came from the floor."
    } else {
        ""
    };
    judged + harm
}

fn stops(summary: &Summary) -> String {
    let touched = |count: u32, speed: f64| match count {
        0 => "touched no end stop".to_owned(),
        1 => format!("touched an end stop once, at {speed:.2} m/s"),
        n => format!("touched an end stop {n} times, at up to {speed:.2} m/s"),
    };
    let (law, passive) = (&summary.travel, &summary.passive_travel);
    if law.stop_contacts == 0 && passive.stop_contacts == 0 {
        return "Neither seat touched an end stop.".to_owned();
    }
    format!(
        "The seat under the law {}; the passive seat {}.",
        touched(law.stop_contacts, law.contact_speed_max_mps),
        touched(passive.stop_contacts, passive.contact_speed_max_mps)
    )
}

fn directive(summary: &Summary) -> String {
    let time = |rms: f64, of: fn(f64) -> Result<Option<f64>, crate::exposure::ExposureError>| {
        daily_time(of(rms).ok().flatten())
    };
    let (law, passive) = (
        summary.seat.weighted_rms_mps2,
        summary.passive.weighted_rms_mps2,
    );
    if all_day(law) && all_day(passive) {
        return format!(
            "Ridden like this for 24 h a day, neither seat would reach the daily exposure action \
             value ({ACTION_A8_MPS2} m/s²)."
        );
    }
    format!(
        "Ridden like this every day, the daily exposure action value ({ACTION_A8_MPS2} m/s²) would be \
         reached after {} under the law and after {} on the passive seat, the limit value \
         ({LIMIT_A8_MPS2} m/s²) after {} and {}.",
        time(law, seconds_to_action),
        time(passive, seconds_to_action),
        time(law, seconds_to_limit),
        time(passive, seconds_to_limit),
    )
}

/// Whether a whole day and night stays below the action value.
fn all_day(rms_mps2: f64) -> bool {
    matches!(seconds_to_action(rms_mps2), Ok(time) if time.is_none_or(|s| s > DAY_S))
}

/// A daily time in hours and minutes.
pub(super) fn daily_time(seconds: Option<f64>) -> String {
    match seconds {
        None => "no time of any length".to_owned(),
        Some(s) if s > DAY_S => "more than 24 h".to_owned(),
        Some(s) if s >= 3600.0 => {
            let minutes = (s / 60.0).floor();
            format!(
                "{:.0} h {:02.0} min",
                (minutes / 60.0).floor(),
                minutes % 60.0
            )
        }
        Some(s) if s >= 60.0 => format!("{:.0} min", (s / 60.0).floor()),
        Some(s) if s >= 1.0 => format!("{:.0} s", s.floor()),
        Some(_) => "less than 1 s".to_owned(),
    }
}

/// How each figure is computed: name, rule, source.
pub(super) fn methods(ride: &Collected) -> Vec<(&'static str, String, &'static str)> {
    let skip_s = ride.spec.skip_s;
    vec![
        (
            "weighted r.m.s.",
            format!(
                "Vertical acceleration through the weighting Wk (bilinear filter at the control \
                 rate), then the root of the mean square over the ride without its first {skip_s} s. \
                 The filter runs from the start of the ride."
            ),
            "ISO 2631-1:1997, Eq. 1; weighting of ISO 8041-1:2017, as transcribed by the open-source \
             library phonometry 3.3.0",
        ),
        (
            "VDV",
            "Fourth root of the time integral of the fourth power of the weighted acceleration, over \
             the time that counts."
                .to_owned(),
            "ISO 2631-1:1997, Eq. 5",
        ),
        (
            "MTVV",
            "Greatest running r.m.s. of the weighted acceleration over a sliding second.".to_owned(),
            "ISO 2631-1:1997, Eq. 2 and 4",
        ),
        (
            "crest factor",
            "Greatest magnitude over r.m.s., both weighted.".to_owned(),
            "ISO 2631-1:1997, 6.2.1",
        ),
        (
            "peak",
            "Greatest magnitude of the acceleration, not weighted.".to_owned(),
            "",
        ),
        (
            "SEAT value",
            "Weighted r.m.s. on the seat over that on the floor; the same with VDV.".to_owned(),
            "ISO 10326-1:2016, 10.2.2, as transcribed by phonometry 3.3.0",
        ),
        (
            "A(8), times to action and limit value",
            "A(8) is the weighted r.m.s. if the whole of 8 h were ridden like this; vertical, \
             multiplier 1. A daily time T gives the value after T = 8 h (value / r.m.s.)². For VDV \
             the time goes with the fourth power."
                .to_owned(),
            "Directive 2002/44/EC, Article 3 and Annex, Part B; ISO 2631-1:1997, 7.2.3",
        ),
        (
            "S_d",
            "Acceleration on the seat through the seat-to-spine filter, sixth-power sum of the \
             positive peaks, times 0.029 MPa/(m/s²) for a male of 82 kg. It stands for the measured \
             time alone, not for a day."
                .to_owned(),
            "ISO 2631-5:2018, Annex C, as transcribed by phonometry",
        ),
        (
            "spectra, transmissibility",
            "Welch's method: half-overlapping Hann segments, mean taken off. H1 is cross-density over \
             floor density; relative standard error sqrt((1 - c) / (2 c n)) from the coherence c and \
             n independent averages."
                .to_owned(),
            "Welch 1967; error formula of Bendat and Piersol, from memory",
        ),
        (
            "passive seat",
            format!(
                "A spring and a damper, {} Hz and damping ratio {} with 80 kg, with the mass, travel, \
                 friction and bumpers of the rig, on the same floor, levelled for its occupant.",
                ride.rig.passive.frequency_hz, ride.rig.passive.damping_ratio
            ),
            "the rig",
        ),
        (
            "bound, share of the possible",
            "Least weighted r.m.s. and, for itself, least peak acceleration of any seat motion that keeps \
             within the usable travel, from rest at mid travel, with the whole floor known in advance \
             and no limit of force: a convex program with steps of 10 ms (5 ms for the peak). Share: \
             (passive - law) / (passive - bound), in SEAT value. No real seat reaches the bound."
                .to_owned(),
            "",
        ),
        (
            "force, power, coil",
            "Motor force from true current and force constant; electrical power into the winding; \
             two-node thermal model, copper resistance rising with temperature."
                .to_owned(),
            "the rig; IEC 60028 for copper",
        ),
        (
            "estimates",
            "Estimate of the firmware less truth of the plant at the same sample. Floor velocity is \
             compared above 0.3 Hz (second-order Butterworth high-pass)."
                .to_owned(),
            "",
        ),
    ]
}

/// What must be kept in mind.
pub(super) const CAUTIONS: [&str; 5] = [
    "This is a simulated ride. Plant, sensors and occupant are models; a real machine, a real seat \
     and a real person will differ.",
    "The default rig and the named machine floors are invented for this project. They describe no \
     real seat and no real machine, and are not the spectra of any standard.",
    "The law is no certified safety function. Limits, parameters and the machine itself must be \
     assessed by qualified people.",
    "Exposure figures of a simulation are no workplace assessment. Directive 2002/44/EC asks for \
     the daily exposure of the worst of three axes; only the vertical is ridden here.",
    "Where local law, codes or the judgement of a licensed practitioner say otherwise, they hold.",
];
