//! The rides of one case, and its figures.

use super::plan::{is_answered_by_mode, motor_is_lost, reaches_the_passive_seat, window_s};
use super::start::{Firmware, Start};
use super::window::Window;
use crate::fault::Entry;
use crate::fault::notice::Notice;
use crate::ride::RideError;
use firmware::{DriveFrame, Fault, Faults, Mode};
use serde::{Deserialize, Serialize};

/// A difference from the healthy ride counts above this, m/s2 (mean over 5 ms), ...
pub const CHANGE_ACCEL_MPS2: f64 = 0.5;
/// ... or above this, m/s of travel rate.
pub const CHANGE_RATE_MPS: f64 = 0.01;
/// A travel rate is wrong when it is off by more than this, m/s.
pub const RATE_ERROR_MPS: f64 = 0.02;
/// Steps are looked for this long from the reaction on, s.
const STEP_WINDOW_S: f64 = 0.3;

/// Latching faults by which the firmware is told, one for each of its answers: Limp without either accelerometer and without
/// the current sensor, Settle without travel, Release, Fault.
pub const ANSWERS: [Fault; 6] = [
    Fault::FloorAccel,
    Fault::SeatAccel,
    Fault::Current,
    Fault::Travel,
    Fault::CrossCheck,
    Fault::Memory,
];

/// What a seat did over the window of a case.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Seat {
    /// Hardest contact with a stop, m/s.
    pub contact_speed_mps: f64,
    /// Peak of the seat's acceleration, m/s2.
    pub peak_mps2: f64,
}

impl Seat {
    fn of(window: &Window, count: usize) -> Self {
        Self {
            contact_speed_mps: window.contact(count),
            peak_mps2: window.peak(count),
        }
    }
}

/// All that was measured of a case. Times count from the onset, s.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CaseFigures {
    /// What tells the case from others.
    pub id: String,
    /// Name of the fault in the catalogue.
    pub fault: String,
    /// Floor, without the time of its event.
    pub floor: String,
    /// Level of the floor.
    pub level: f64,
    /// Occupant, kg.
    pub occupant_kg: f64,
    /// Onset, s.
    pub onset_s: f64,
    /// The firmware as it is.
    pub law: Seat,
    /// Without the fault.
    pub healthy: Seat,
    /// The passive seat.
    pub passive: Seat,
    /// The firmware without a reaction.
    pub unreacting: Seat,
    /// The firmware as it is, until its first answer to the fault can act.
    pub blow: Seat,
    /// Windings open from the onset on; only where the law breaks a limit.
    pub motor_open: Option<Seat>,
    /// Windings shorted from the onset on; only where the law breaks a limit.
    pub motor_shorted: Option<Seat>,
    /// The firmware told in the period of the onset, once for each of its answers ([`ANSWERS`]); only for a dangerous case.
    pub at_once: Vec<Seat>,
    /// The unreacting ride first differs from the healthy one.
    pub changes_after_s: Option<f64>,
    /// Largest difference of acceleration of these two, mean over 5 ms, m/s2.
    pub change_mps2: f64,
    /// Largest difference of travel rate of these two, m/s.
    pub change_mps: f64,
    /// The unreacting ride first breaks a limit.
    pub breaks_after_s: Option<f64>,
    /// The estimated travel rate of the unreacting firmware is first 20 mm/s off.
    pub rate_wrong_after_s: Option<f64>,
    /// First new fault bit; for what is answered by mode, the change of mode.
    pub noticed_after_s: Option<f64>,
    /// The new fault bits in words.
    pub noticed_as: Vec<String>,
    /// From being noticed to the first mode that is not ordinary, s.
    pub reaction_s: Option<f64>,
    /// That mode, or the one at the end.
    pub mode: String,
    /// Modes from the onset on, each once.
    pub modes: Vec<String>,
    /// Step of acceleration at the reaction beyond the fault's own, m/s2.
    pub step_mps2: Option<f64>,
    /// The step of that kind which letting the motor go in the same period makes, with windings open or shorted, whichever is
    /// less, m/s2; only of a motor that no command reaches, where the law steps too far.
    pub let_go_mps2: Option<f64>,
    /// The command that rides the case.
    pub command: String,
}

/// Modes that are no answer to a fault.
const fn is_ordinary(code: u8) -> bool {
    matches!(
        Mode::from_code(code),
        Some(Mode::Off | Mode::Passive | Mode::Rise | Mode::Active | Mode::Beyond)
    )
}

/// When the mode became another than an ordinary one.
#[derive(Default)]
struct Reaction {
    mode_before: u8,
    /// Period and mode, each change to a mode that is not ordinary.
    at: Option<(usize, u8)>,
    last: u8,
}

impl Reaction {
    fn push(&mut self, since: i64, mode: u8, noticed: bool) {
        self.last = mode;
        let Ok(period) = usize::try_from(since) else {
            self.mode_before = mode;
            return;
        };
        if noticed && self.at.is_none() && mode != self.mode_before && !is_ordinary(mode) {
            self.at = Some((period, mode));
        }
    }
}

/// Rides a case.
///
/// # Errors
/// A fault that cannot be put in.
pub fn ride(start: &Start<'_>, entry: &Entry) -> Result<CaseFigures, RideError> {
    let step_s = start.rig.timing.step_s;
    let place = start.place;
    let fault = place.fault(entry);
    let faults = [fault];
    let count = (window_s(entry) / step_s).round() as usize;
    let seconds = |period: usize| period as f64 * step_s;

    let mut notice = Notice::new(fault);
    let mut reaction = Reaction::default();
    let by_mode = is_answered_by_mode(entry.kind);
    let law = start.law(&faults, count, Firmware::AsItIs, &mut |since, asked, _| {
        notice.look(place.onset_s + since as f64 * step_s, &asked.answer);
        let noticed = by_mode || notice.noticed().is_some();
        reaction.push(since, asked.answer.mode, noticed);
    })?;
    let mut rate_wrong = None;
    let twin = start.law(
        &faults,
        count,
        Firmware::Unreacting,
        &mut |since, asked, plant| {
            let error = f64::from(asked.inside.motion.travel_rate) - plant.travel_rate();
            if rate_wrong.is_none() && error.abs() > RATE_ERROR_MPS {
                rate_wrong = usize::try_from(since).ok();
            }
        },
    )?;
    let own_passive = if reaches_the_passive_seat(entry.kind) {
        Some(start.passive(&faults, count)?)
    } else {
        None
    };
    let passive = Seat::of(own_passive.as_ref().unwrap_or(&start.passive_alone), count);

    let parting = twin.parting(&start.healthy, CHANGE_ACCEL_MPS2, CHANGE_RATE_MPS);
    let figures = notice.figures();
    let reacted_s = reaction.at.map(|(period, _)| seconds(period));
    let noticed_s = match figures.noticed_after_s {
        None if by_mode => reacted_s,
        noticed => noticed,
    };
    let periods = (STEP_WINDOW_S / step_s).round() as usize;
    let step_of = |window: &Window, period: usize| {
        let own = |window: &Window| window.largest_step(period, periods);
        (own(window) - own(&start.healthy).max(own(&twin))).max(0.0)
    };
    let step = reaction.at.map(|(period, _)| step_of(&law, period));
    let mode = reaction.at.map_or(reaction.last, |(_, mode)| mode);
    let mut case = CaseFigures {
        id: place.id(entry),
        fault: entry.name.clone(),
        floor: place.title.clone(),
        level: place.floor.level,
        occupant_kg: place.occupant_kg,
        onset_s: place.onset_s,
        law: Seat::of(&law, count),
        healthy: Seat::of(&start.healthy, count),
        passive,
        unreacting: Seat::of(&twin, count),
        blow: Seat::of(&law, start.rig.timing.transport_steps + 2),
        motor_open: None,
        motor_shorted: None,
        at_once: Vec::new(),
        changes_after_s: parting.first.map(seconds),
        change_mps2: parting.accel_mps2,
        change_mps: parting.rate_mps,
        breaks_after_s: None,
        rate_wrong_after_s: rate_wrong.map(seconds),
        noticed_after_s: noticed_s,
        noticed_as: figures.noticed_as.iter().map(|w| (*w).to_owned()).collect(),
        reaction_s: match (reacted_s, noticed_s) {
            (Some(reacted), Some(noticed)) => Some((reacted - noticed).max(0.0)),
            _ => None,
        },
        mode: Mode::from_code(mode).map_or("none", Mode::name).to_owned(),
        modes: figures.modes.iter().map(|m| (*m).to_owned()).collect(),
        step_mps2: step,
        let_go_mps2: None,
        command: place.command(entry),
    };
    case.breaks_after_s = twin
        .breaks(case.contact_limit_mps(), case.peak_limit_mps2())
        .map(seconds);
    if case.is_dangerous() {
        for answer in ANSWERS {
            let told = Firmware::Told(Faults(answer as u16));
            let window = start.law(&faults, count, told, &mut |_, _, _| ())?;
            case.at_once.push(Seat::of(&window, count));
        }
    }
    let off = |outputs, from| {
        let motor_off = Firmware::MotorOff { outputs, from };
        start.law(&faults, count, motor_off, &mut |_, _, _| ())
    };
    if case.breaks_a_limit(&case.law) {
        case.motor_open = Some(Seat::of(&off(0, 0)?, count));
        case.motor_shorted = Some(Seat::of(&off(DriveFrame::DAMP, 0)?, count));
    }
    if let Some((period, _)) = reaction.at
        && case.steps_too_far()
        && motor_is_lost(entry.kind)
    {
        let open = step_of(&off(0, period)?, period);
        let shorted = step_of(&off(DriveFrame::DAMP, period)?, period);
        case.let_go_mps2 = Some(open.min(shorted));
    }
    Ok(case)
}
