//! The claims about the modes, each proved by looking at every state under every input.

use super::alphabet::{Latching, Passing};
use super::graph::{ANY, ARM_OFF, ARM_ON, Graph, PROVED, QUIET, SEATED, STEP_S, Step};
use super::guards::Guards;
use super::periods::{repeated, soonest_back};
use firmware::supervise::{Parameters, Thresholds};
use firmware::{BuildError, Faults, Mode, Timing};
use serde::Serialize;

/// What is counted or timed in one exploration.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Found {
    /// States that can be reached.
    pub states: usize,
    /// Pairs of state and input class.
    pub pairs: u64,
    /// Steps that drive, or give any authority, with a fault standing or the stop circuit open, though they are none
    /// of the exceptions (`may_drive`).
    pub drives_disturbed: u64,
    /// Steps of Limp that look ahead with an accelerometer lost.
    pub limp_isolates: u64,
    /// Steps of Release that raise authority or move the height adjuster.
    pub release_raises: u64,
    /// Steps from Release to another mode that drives.
    pub release_drives_on: u64,
    /// Steps that give authority in a mode that does not drive.
    pub authority_undriven: u64,
    /// Steps in which authority moves faster than its ramps, but for the exceptions (`jumped`).
    pub jumps: u64,
    /// Descriptions by conditions that lead to two modes.
    pub undecided: u64,
    /// States from which some mode cannot be reached.
    pub dead_ends: usize,
    /// States that drive as if nothing were wrong (Rise, Active, Derated, Beyond) and can be reached from an armed
    /// machine with a latched fault while the arming switch stays on.
    pub unbidden: usize,
    /// States other than Off that can be reached after reset while the arming switch stays on, and when it is put
    /// off then.
    pub unarmed: usize,
    /// Most steps from any state of Release out of it, whatever comes: as many steps drive in a row.
    pub out_of_release: Option<u32>,
    /// Most steps from any state to Off, disarmed and undisturbed; absent when it may never come.
    pub to_off: Option<u32>,
    /// Most steps from any state out of Damped, undisturbed.
    pub out_of_damped: Option<u32>,
    /// Most steps from any state out of Beyond while all assumptions of the proof hold.
    pub out_of_beyond: Option<u32>,
    /// Fewest steps from a step in which an assumption does not hold, in Beyond, to Active.
    pub beyond_to_active: Option<u32>,
    /// Fewest steps from a change of mode to the same one, again and again: both switches at rest.
    pub period_at_rest: Option<u32>,
    /// The same, whatever the switches do.
    pub period: Option<u32>,
}

/// One change of mode and what causes it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ChangeRow {
    /// Mode before.
    pub from: &'static str,
    /// Mode after.
    pub to: &'static str,
    /// Any of these causes it.
    pub guards: Vec<String>,
}

/// Explores the machine of `parameters` (times in multiples of [`STEP_S`]) and counts what breaks a claim.
///
/// # Errors
/// When a parameter cannot be used.
pub fn explore(
    parameters: &Parameters,
    with_periods: bool,
) -> Result<(Found, Guards, Thresholds), BuildError> {
    let at = parameters
        .build(&Timing {
            step_s: STEP_S,
            latency_s: 0.0,
        })?
        .thresholds();
    let mut guards = Guards::default();
    let (mut drives_disturbed, mut authority_undriven, mut jumps) = (0, 0, 0);
    let (mut limp_isolates, mut release_raises, mut release_drives_on) = (0, 0, 0);
    let graph = Graph::explore(parameters, |step| {
        guards.note(step, &at);
        let permit = step.permit;
        let disturbed = step.faults.any() || !step.letter.stop_closed;
        let authority = permit.force != 0 || permit.isolation != 0 || permit.level != 0;
        let (mode, before) = (permit.mode, step.from.state);
        drives_disturbed +=
            u64::from(disturbed && (mode.drives() || authority) && !may_drive(step));
        authority_undriven += u64::from(!mode.drives() && authority);
        let blind = step.faults.meets(Faults::ACCELEROMETERS);
        limp_isolates += u64::from(mode == Mode::Limp && blind && permit.isolation != 0);
        let raised = permit.force > before.force() || permit.isolation > before.isolation();
        release_raises += u64::from(mode == Mode::Release && (raised || permit.level != 0));
        let released = before.mode() == Mode::Release && mode != Mode::Release;
        release_drives_on += u64::from(released && mode.drives());
        jumps += u64::from(jumped(step, at.ramp, disturbed));
    })?;
    let count = graph.states.len();
    let mut reaches_all = vec![true; count];
    for code in 0..=u8::MAX {
        let Some(mode) = Mode::from_code(code) else {
            break;
        };
        let leads = graph.leading_to(|s| graph.mode(s) == mode);
        for (all, leads) in reaches_all.iter_mut().zip(leads) {
            *all &= leads;
        }
    }
    let waits = |s: usize| graph.states[s].latch.any() && graph.states[s].state.armed();
    let held = graph.reached_from(waits, ARM_ON);
    let as_ever = [Mode::Rise, Mode::Active, Mode::Derated, Mode::Beyond];
    let unbidden = (0..count).filter(|s| held[*s] && as_ever.contains(&graph.mode(*s)));
    let left_on = graph.reached_from(|s| s == 0, ARM_ON);
    let then_off = graph.reached_from(|s| left_on[s], ARM_OFF);
    let unarmed = (0..count).filter(|s| then_off[*s] && graph.mode(*s) != Mode::Off);
    let least = |classes| repeated(&graph, classes).into_values().min();
    let found = Found {
        states: count,
        pairs: graph.tried,
        drives_disturbed,
        limp_isolates,
        release_raises,
        release_drives_on,
        authority_undriven,
        jumps,
        undecided: guards.undecided,
        dead_ends: reaches_all.iter().filter(|all| !**all).count(),
        unbidden: unbidden.count(),
        unarmed: unarmed.count(),
        out_of_release: graph.longest_to(|s| graph.mode(s) != Mode::Release, ANY),
        to_off: graph.longest_to(|s| graph.mode(s) == Mode::Off, ARM_OFF & QUIET),
        out_of_damped: graph.longest_to(|s| graph.mode(s) != Mode::Damped, QUIET),
        out_of_beyond: graph.longest_to(|s| graph.mode(s) != Mode::Beyond, PROVED),
        beyond_to_active: soonest_back(&graph),
        period_at_rest: if with_periods {
            least(ARM_ON & SEATED)
        } else {
            None
        },
        period: if with_periods { least(ANY) } else { None },
    };
    Ok((found, guards, at))
}

/// Whether a step may drive with a fault standing or the stop circuit open: the stop circuit is closed, and
/// either one dispensable sensor is lost, nothing else, and the mode is Limp or Settle; or travel is lost, nothing else, or
/// bearable faults alone stand, and the mode is Settle; or the current is led to zero in Release, and what stands leaves the motor trusted: passing faults
/// alone, or sensors alone.
fn may_drive(step: &Step<'_>) -> bool {
    let latching = Latching::of(step.faults);
    let passing = Passing::of(step.faults);
    step.letter.stop_closed
        && match step.permit.mode {
            Mode::Settle if passing == Passing::Bearable => latching == Latching::None,
            Mode::Settle if latching == Latching::Travel => passing == Passing::None,
            Mode::Limp | Mode::Settle => latching.one_lost() && passing == Passing::None,
            Mode::Release if passing != Passing::None => latching == Latching::None,
            Mode::Release => latching != Latching::Hard,
            _ => false,
        }
}

/// Whether authority moved further than a ramp's step. The catch gives the whole force at once, Limp takes the
/// isolation at once, and a fault or the end of Release takes all where nothing drives any more.
fn jumped(step: &Step<'_>, ramp: i32, disturbed: bool) -> bool {
    let (before, permit) = (step.from.state, step.permit);
    if !permit.mode.drives() && (disturbed || before.mode() == Mode::Release) {
        return false;
    }
    let caught = permit.mode == Mode::Rise && before.force() == 0;
    let limps = permit.mode == Mode::Limp && permit.isolation == 0;
    (permit.force - before.force()).abs() > ramp && !caught
        || (permit.isolation - before.isolation()).abs() > ramp && !limps
}

/// The times that are claimed, in steps, from the thresholds alone.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Stated {
    /// Off at the latest, disarmed and undisturbed.
    pub to_off: u32,
    /// Out of Damped at the latest, undisturbed.
    pub out_of_damped: u32,
    /// Release drives no more steps than this in a row.
    pub release: u32,
    /// Out of Beyond at the latest when all assumptions hold, and back to Active at the soonest after a step in
    /// which one does not.
    pub beyond: u32,
    /// A change of mode comes again at the soonest, both switches at rest.
    pub period_at_rest: u32,
    /// The same, whatever the switches do.
    pub period: u32,
}

impl Stated {
    /// The claims of a machine.
    #[must_use]
    pub fn of(at: &Thresholds) -> Self {
        let (switch, clear) = (at.switch, at.clear);
        // With a dispensable sensor lost Settle ends in Fault, one step before Off.
        let settle = switch + at.settle_max + at.lead_out + 1;
        // From the first step of Release: as many again, Damped until all has been well for long enough, Passive.
        let release = at.release + 1;
        let damped = (release + 1).max(clear) + 1;
        Self {
            to_off: settle.max(damped).max(switch),
            out_of_damped: clear,
            release,
            beyond: clear,
            period_at_rest: clear + 1,
            period: (2 * switch).min(clear + 1),
        }
    }
}

impl Found {
    /// Whether nothing breaks a claim and all times are as stated.
    #[must_use]
    pub fn holds(&self, stated: &Stated) -> bool {
        let none = [
            self.drives_disturbed,
            self.limp_isolates,
            self.release_raises,
            self.release_drives_on,
            self.authority_undriven,
            self.jumps,
            self.undecided,
        ];
        none.iter().all(|n| *n == 0)
            && self.dead_ends == 0
            && self.unbidden == 0
            && self.unarmed == 0
            && self.out_of_release == Some(stated.release)
            && self.to_off == Some(stated.to_off)
            && self.out_of_damped == Some(stated.out_of_damped)
            && self.out_of_beyond == Some(stated.beyond)
            && self.beyond_to_active == Some(stated.beyond)
            && self
                .period_at_rest
                .is_none_or(|n| n == stated.period_at_rest)
            && self.period.is_none_or(|n| n == stated.period)
    }
}

/// Everything that is said about the modes of one machine.
#[derive(Clone, Debug, Serialize)]
pub struct Proof {
    /// Changes of mode and what causes them.
    pub changes: Vec<ChangeRow>,
    /// The machine with short times.
    pub short: Found,
    /// The machine's own times at a coarse step: what is found ...
    pub coarse: Found,
    /// ... and that step, s.
    pub coarse_step_s: f32,
    /// The claims, in steps of the machine's own control period.
    pub stated: Stated,
    /// That period, s.
    pub step_s: f32,
    /// Whether all claims hold in both.
    pub holds: bool,
}

/// Times of the short machine, steps, in the order of the parameters: all differ where a difference can show.
const SHORT: [u16; 8] = [2, 4, 2, 2, 5, 3, 3, 2];

/// The parameters with `steps` for their times: switch, rise_max, lead_in, lead_out, settle_max, level_rest,
/// clear, release; in multiples of [`STEP_S`].
#[must_use]
pub fn with_steps(parameters: &Parameters, steps: [u16; 8]) -> Parameters {
    let [
        switch,
        rise,
        lead_in,
        lead_out,
        settle,
        rest,
        clear,
        release,
    ] = steps.map(|n| f32::from(n.max(1)) * STEP_S);
    Parameters {
        switch_s: switch,
        rise_max_s: rise,
        lead_in_s: lead_in,
        lead_out_s: lead_out,
        settle_max_s: settle,
        level_rest_s: rest,
        clear_s: clear,
        release_s: release,
        ..*parameters
    }
}

/// The times of the parameters in steps of `step_s`, rounded.
#[must_use]
pub fn in_steps(p: &Parameters, step_s: f32) -> [u16; 8] {
    [
        p.switch_s,
        p.rise_max_s,
        p.lead_in_s,
        p.lead_out_s,
        p.settle_max_s,
        p.level_rest_s,
        p.clear_s,
        p.release_s,
    ]
    .map(|s| (s / step_s).round() as u16)
}

/// Steps of the longest time in the coarse exploration: states grow with its square.
const LONGEST_STEPS: f32 = 40.0;

/// Proves the claims for a machine: its structure with short times, and its own times at a step so coarse that the
/// longest lasts 40 steps. Both are explored at once.
///
/// # Errors
/// When a parameter cannot be used.
pub fn prove(parameters: &Parameters, timing: &Timing) -> Result<Proof, BuildError> {
    let stated = Stated::of(&parameters.build(timing)?.thresholds());
    let longest = [
        parameters.switch_s,
        parameters.rise_max_s,
        parameters.settle_max_s,
        parameters.level_rest_s,
        parameters.clear_s,
        parameters.release_s,
    ]
    .into_iter()
    .fold(0.0, f32::max);
    let coarse_step_s = longest / LONGEST_STEPS;
    let steps = in_steps(parameters, coarse_step_s);
    let (coarse, short) = std::thread::scope(|scope| {
        let coarse = scope.spawn(|| explore(&with_steps(parameters, steps), false));
        let short = explore(&with_steps(parameters, SHORT), true);
        (coarse.join(), short)
    });
    let (short, guards, at) = short?;
    let short_holds = short.holds(&Stated::of(&at));
    let (coarse, _, at) = coarse.unwrap_or_else(|panic| std::panic::resume_unwind(panic))?;
    let changes = guards
        .changes()
        .into_iter()
        .map(|(from, to, guards)| ChangeRow {
            from: from.name(),
            to: to.name(),
            guards,
        });
    Ok(Proof {
        changes: changes.collect(),
        short,
        coarse,
        coarse_step_s,
        stated,
        step_s: timing.step_s,
        holds: short_holds && coarse.holds(&Stated::of(&at)),
    })
}
