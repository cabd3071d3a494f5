//! The state machine explored whole: the firmware's own code from every state under every class of input.
//! Nothing here is taken from a model; the formulas of the times are this project's claims.

use firmware::supervise::{Counts, Input, Latch, Parameters};
use firmware::{Fault, Faults, Mode, Switches};
use host_sim::modes::alphabet::{Bands, Latching, Letter, Passing, letters};
use host_sim::modes::graph::{ANY, ARM_ON, Graph, Joined, SEATED};
use host_sim::modes::periods::{once_more, repeated};
use host_sim::modes::proof::{self, Proof, Stated, with_steps};
use host_sim::modes::{diagram, page};
use host_sim::rig::Rig;
use std::sync::OnceLock;

/// Times in steps, in the order of `with_steps`: one longer than in the first machine, all at their least, and others.
const MACHINES: [[u16; 8]; 6] = [
    [2, 3, 2, 2, 4, 2, 3, 2],
    [2, 6, 2, 2, 4, 2, 3, 2],
    [2, 3, 2, 2, 4, 5, 3, 2],
    [2, 3, 2, 2, 4, 2, 3, 6],
    [2, 1, 1, 1, 1, 1, 3, 9],
    [1, 1, 1, 1, 1, 1, 1, 1],
];

/// The one with the most states, in a test of its own, which is named so that it begins first: it takes as long as all others.
const LARGE: [u16; 8] = [3, 3, 2, 3, 5, 3, 5, 1];

/// Machines in the first of two tests that run side by side.
const HALF: usize = 3;

fn parameters() -> Parameters {
    Rig::default_machine()
        .expect("the default rig")
        .firmware
        .supervise
}

/// The proof of the default rig, made once.
fn proof_of_default() -> &'static Proof {
    static PROOF: OnceLock<Proof> = OnceLock::new();
    PROOF.get_or_init(|| {
        let rig = Rig::default_machine().expect("the default rig");
        proof::prove(&rig.firmware.supervise, &rig.firmware.timing).expect("parameters")
    })
}

/// The states of the first machine, explored once.
fn first_graph() -> &'static Graph {
    static GRAPH: OnceLock<Graph> = OnceLock::new();
    GRAPH.get_or_init(|| {
        Graph::explore(&with_steps(&parameters(), MACHINES[0]), |_| {}).expect("parameters")
    })
}

/// A generator of numbers: xorshift64*.
struct Numbers(u64);

impl Numbers {
    fn next(&mut self) -> u32 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        (self.0.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 32) as u32
    }

    fn below(&mut self, n: usize) -> usize {
        ((u64::from(self.next()) * n as u64) >> 32) as usize
    }

    fn four(&mut self) -> [u32; 4] {
        core::array::from_fn(|_| self.next())
    }
}

/// No claim is broken, and every time is exactly what its formula says, on every machine.
fn claims_hold_on(machines: &[[u16; 8]]) {
    for steps in machines {
        let (found, _, at) = proof::explore(&with_steps(&parameters(), *steps), true).unwrap();
        let stated = Stated::of(&at);
        assert!(found.holds(&stated), "{steps:?}: {found:#?} {stated:#?}");
    }
}

#[test]
fn a_large_machine_keeps_the_claims() {
    claims_hold_on(&[LARGE]);
}

#[test]
fn claims_hold_on_the_first_machines() {
    claims_hold_on(&MACHINES[..HALF]);
}

#[test]
fn claims_hold_on_the_other_machines() {
    claims_hold_on(&MACHINES[HALF..]);
}

/// The same for the default rig, whose own times are explored at a coarse step.
// Demonstrates: modes-claims
#[test]
fn claims_hold_for_the_default_rig() {
    let proof = proof_of_default();
    assert!(proof.holds, "{proof:#?}");
    // What is stated, in seconds: Off within 12.6 s; no automatic repetition within 1 s, none at all within 0.1 s.
    let s = |steps: u32| f64::from(steps) * f64::from(proof.step_s);
    assert!(s(proof.stated.to_off) < 12.6);
    assert!(s(proof.stated.period_at_rest) > 1.0);
    assert!(s(proof.stated.period) > 0.0999);
}

/// Counters beyond their thresholds behave as if they stood there: every state under every input, with the counters
/// a little and very far beyond. This is what makes the exploration complete.
#[test]
fn bounded_counters_lose_nothing() {
    let graph = first_graph();
    let config = &graph.config;
    let at = config.thresholds();
    let inputs: Vec<Input> = letters()
        .map(|l| graph.bands.input(&l, [1 << 30; 4]))
        .collect();
    let mut compared = 0_u64;
    for joined in &graph.states {
        let counts = joined.state.counts();
        for more in [1, 1000, u32::MAX] {
            let beyond = |n: u32, threshold: u32| {
                if n >= threshold {
                    n.saturating_add(more)
                } else {
                    n
                }
            };
            let in_mode_ends = match joined.state.mode() {
                Mode::Rise => at.rise_max,
                Mode::Settle => at.settle_max,
                Mode::Derated => at.clear,
                Mode::Release => at.release,
                _ => 0,
            };
            let gone = beyond(counts.fault_gone_for, at.clear);
            let proved_ends = match joined.state.mode() {
                Mode::Beyond => at.clear,
                _ => 0,
            };
            let proved = beyond(counts.proved_for, proved_ends);
            let far = Joined {
                state: joined.state.with_counts(Counts {
                    in_mode: beyond(counts.in_mode, in_mode_ends),
                    level_rest: beyond(counts.level_rest, at.level_rest),
                    fault_gone_for: gone,
                    proved_for: proved,
                }),
                ..*joined
            };
            assert_eq!(far.bounded(config), *joined);
            if far == *joined {
                continue;
            }
            for input in &inputs {
                let (mut near, mut far) = (*joined, far);
                assert_eq!(near.step(config, input), far.step(config, input));
                assert_eq!(near.bounded(config), far.bounded(config));
                compared += 1;
            }
        }
    }
    assert!(compared > 1_000_000, "{compared}");
}

/// A class of inputs is one input to the machine: anywhere in its bands every state goes the same way.
#[test]
fn bands_hold_all_that_matters() {
    let graph = first_graph();
    let mut numbers = Numbers(1);
    let letters: Vec<_> = letters().collect();
    assert_eq!(letters.len(), 21_600);
    let ends = [[0; 4], [u32::MAX; 4], [u32::MAX - 1; 4], [1; 4]];
    for joined in &graph.states {
        for letter in &letters {
            let pick = numbers.below(8);
            let at = ends.get(pick).copied().unwrap_or_else(|| numbers.four());
            let (mut one, mut other) = (*joined, *joined);
            one.step(&graph.config, &graph.bands.input(letter, [1 << 30; 4]));
            other.step(&graph.config, &graph.bands.input(letter, at));
            assert_eq!(one, other, "{letter:?} {at:?}");
        }
    }
}

/// Of faults the machine only asks of which class the latching ones are, and of which the passing ones, or whether there is
/// any where a latching one is seen: all sets of the 14 faults, in every state.
#[test]
fn fault_sets_are_of_fifteen_kinds() {
    let graph = first_graph();
    let armed = letters().find(|l| l.arm && l.occupant && !l.disturbed());
    let quiet = graph.bands.input(&armed.unwrap(), [1 << 30; 4]);
    let mut met = [0_u32; 15];
    for joined in graph.states.iter().step_by(7) {
        let next = |faults: u16| {
            let mut joined = *joined;
            let input = Input {
                faults: Faults(faults),
                ..quiet
            };
            let (permit, _) = joined.step(&graph.config, &input);
            (permit, joined.bounded(&graph.config))
        };
        let kinds: [_; 15] = core::array::from_fn(|n| {
            let (latching, passing) = match n.checked_sub(3) {
                None => (Latching::None, Passing::ALL[n]),
                Some(n) => (
                    Latching::ALL[1 + n / 2],
                    [Passing::None, Passing::Grave][n % 2],
                ),
            };
            next(latching.faults().0 | passing.faults().0)
        });
        for set in 0..1_u16 << Fault::ALL.len() {
            let faults = Faults(set);
            let class = Latching::ALL
                .iter()
                .position(|class| *class == Latching::of(faults));
            let passing = Passing::ALL
                .iter()
                .position(|class| *class == Passing::of(faults));
            let (class, passing) = (class.unwrap(), passing.unwrap());
            let kind = match class.checked_sub(1) {
                None => passing,
                Some(class) => 3 + 2 * class + usize::from(passing != 0),
            };
            assert_eq!(next(set), kinds[kind], "{set:#b}");
            met[kind] += 1;
        }
    }
    assert!(met.iter().all(|n| *n > 0), "{met:?}");
}

/// Of what is latched only the class matters: any two sets of one class that stand in the latch behave the same
/// for ever, since each step leads to the same mode and again to one class.
#[test]
fn latched_sets_are_of_seven_classes() {
    let graph = first_graph();
    let inputs: Vec<Input> = letters()
        .map(|l| graph.bands.input(&l, [1 << 30; 4]))
        .collect();
    let others: Vec<Faults> = (0..1_u16 << Fault::ALL.len())
        .map(Faults)
        .filter(|set| set.passing().0 == 0 && set.any())
        .collect();
    let mut numbers = Numbers(3);
    let mut compared = 0_u64;
    for joined in graph.states.iter().filter(|joined| joined.latch.any()) {
        let class = Latching::of(joined.latched());
        // One of the sets in turn for each input.
        let alike: Vec<_> = others
            .iter()
            .filter(|set| Latching::of(**set) == class)
            .collect();
        for input in &inputs {
            let mut latch = Latch::default();
            latch.hold(*alike[numbers.below(alike.len())]);
            let (mut one, mut other) = (*joined, Joined { latch, ..*joined });
            let (permit, _) = one.step(&graph.config, input);
            assert_eq!(other.step(&graph.config, input).0, permit);
            assert_eq!(one.bounded(&graph.config), other.bounded(&graph.config));
            compared += 1;
        }
    }
    assert!(compared > 1_000_000, "{compared}");
}

/// Also a single repetition, from whatever state the first change led to: never in the step after next, and with the
/// arming switch on no faster than a fault takes to clear, but for what the occupant switch does.
#[test]
fn single_repetitions() {
    let graph =
        Graph::explore(&with_steps(&parameters(), [3, 3, 2, 2, 4, 2, 5, 2]), |_| {}).unwrap();
    let at = graph.config.thresholds();
    let least = once_more(&graph, ANY).into_values().min();
    assert_eq!(least, Some(3));
    let (heat, fault) = ((Mode::Derated, Mode::Active), (Mode::Damped, Mode::Passive));
    let armed = once_more(&graph, ARM_ON);
    assert_eq!(armed[&heat], at.clear + 2);
    assert_eq!(armed[&fault], at.clear + 2);
    // Beyond comes and goes no faster than all must have held, while both switches rest.
    let seated = once_more(&graph, ARM_ON & SEATED);
    for change in [(Mode::Active, Mode::Beyond), (Mode::Beyond, Mode::Active)] {
        assert_eq!(seated[&change], at.clear + 1, "{change:?}");
    }
}

/// The claims would not hold of another machine: without the wait in Damped the periods are shorter.
#[test]
fn periods_follow_the_times() {
    let of = |clear| {
        let steps = [2, 3, 2, 2, 4, 2, clear, 2];
        let graph = Graph::explore(&with_steps(&parameters(), steps), |_| {}).unwrap();
        repeated(&graph, ARM_ON & SEATED).into_values().min()
    };
    assert_eq!(of(1), Some(2));
    assert_eq!(of(6), Some(7));
}

/// The default rig's own times at its own step are too many states to visit all: 8 000 000 random steps, with inputs
/// that rest for random times so that long counters run out. What is claimed of single steps holds in each, and so
/// does the bound on the way to Off.
#[test]
fn long_walks_with_the_default_times() {
    let rig = Rig::default_machine().unwrap();
    let config = rig.firmware.supervise.build(&rig.firmware.timing).unwrap();
    let bands = Bands::of(&rig.firmware.supervise);
    let stated = Stated::of(&config.thresholds());
    let letters: Vec<_> = letters().collect();
    let quiet_off = |l: &&Letter| !l.arm && !l.disturbed();
    let leaving: Vec<_> = letters.iter().filter(quiet_off).collect();
    let mut numbers = Numbers(7);
    let mut joined = Joined::default();
    let mut steps = 0_u32;
    let (mut slowest, mut seen, mut changes) = (0, [0_u32; 11], 0_u32);
    let mut in_release = 0;
    let mut step = |joined: &mut Joined, letter: &Letter, at| {
        let before = joined.state.mode();
        let (permit, faults) = joined.step(&config, &bands.input(letter, at));
        if faults.any() || !letter.stop_closed {
            let one_lost = [Fault::FloorAccel, Fault::SeatAccel, Fault::Current]
                .iter()
                .any(|fault| faults.0 == *fault as u16);
            let allowed = letter.stop_closed
                && match permit.mode {
                    Mode::Settle if faults.within(Faults::BEARABLE) => true,
                    Mode::Settle if faults.0 == Fault::Travel as u16 => true,
                    Mode::Limp | Mode::Settle => one_lost,
                    // Without its current sensor the motor is still led to zero.
                    Mode::Release => {
                        one_lost
                            || faults.within(Faults::PASSING)
                            || faults.within(Faults::RELEASED)
                    }
                    _ => false,
                };
            let idle = !permit.mode.drives() && permit.force == 0 && permit.level == 0;
            assert!(allowed || idle, "{permit:?} {faults:?} {letter:?}");
        }
        in_release = if permit.mode == Mode::Release {
            in_release + 1
        } else {
            0
        };
        assert!(in_release <= stated.release);
        seen[usize::from(permit.mode.code())] += 1;
        changes += u32::from(before != permit.mode);
        steps += 1;
        steps
    };
    while step(&mut joined, &letters[0], [0; 4]) < 8_000_000 {
        // Mostly armed and well, so that all modes are met.
        for _ in 0..numbers.below(40) {
            let mut letter = letters[numbers.below(letters.len())];
            if numbers.below(8) != 0 {
                (letter.arm, letter.stop_closed) = (true, true);
                (letter.passing, letter.latching) = (Passing::None, Latching::None);
            }
            let at = numbers.four();
            let rest = 1 << numbers.below(12);
            for _ in 0..rest {
                step(&mut joined, &letter, at);
            }
        }
        // Disarm: Off in time, whatever the rest does.
        let mut taken = 0;
        while joined.state.mode() != Mode::Off || joined.state.armed() {
            let letter = leaving[numbers.below(leaving.len())];
            step(&mut joined, letter, numbers.four());
            taken += 1;
            assert!(taken <= stated.to_off, "{taken} steps");
        }
        slowest = taken.max(slowest);
    }
    assert!(seen.iter().all(|n| *n > 1000), "{seen:?}");
    println!(
        "{steps} steps, {changes} changes of mode, slowest way to Off {slowest} steps, steps by mode {seen:?}"
    );
}

/// The bounds are met exactly with the default times: the slowest way to Off, and the fastest repetition.
#[test]
fn stated_times_are_reached() {
    let rig = Rig::default_machine().unwrap();
    let config = rig.firmware.supervise.build(&rig.firmware.timing).unwrap();
    let stated = Stated::of(&config.thresholds());
    let all = Switches::ARM | Switches::OCCUPANT | Switches::STOP_CIRCUIT;
    let input = |switches: u8, faults: u16, force_kn: f32| Input {
        switches: Switches(switches),
        faults: Faults(faults),
        travel: 0,
        travel_rate: 0,
        heat_share: 1 << 24,
        static_force: shared_math::q24_from_f32(force_kn),
        beyond: false,
    };
    let active = || {
        let mut joined = Joined::default();
        joined.step(&config, &input(all & !Switches::ARM, 0, 0.0));
        while joined.state.force() < 1 << 24 || joined.state.mode() != Mode::Active {
            joined.step(&config, &input(all, 0, 0.0));
        }
        joined
    };
    // A static force that never goes away keeps the adjuster running to the last; with an accelerometer lost Fault
    // comes before Off.
    for (lost, more) in [(0, 1), (Fault::SeatAccel as u16, 0)] {
        let mut joined = active();
        joined.step(&config, &input(all, lost, 0.5));
        let mut taken = 0;
        while joined.state.mode() != Mode::Off {
            joined.step(&config, &input(all & !Switches::ARM, 0, 0.5));
            taken += 1;
        }
        assert_eq!(taken + more, stated.to_off);
    }
    // Release lasts its time to the step.
    let mut joined = active();
    let mut released = 0;
    while !matches!(joined.state.mode(), Mode::Damped | Mode::Fault) {
        joined.step(&config, &input(all, Fault::CrossCheck as u16, 0.0));
        released += u32::from(joined.state.mode() == Mode::Release);
    }
    assert_eq!(
        (joined.state.mode(), released),
        (Mode::Fault, stated.release)
    );
    // Frames that are repeated the moment the seat drives again.
    let mut joined = active();
    let mut last = None;
    let mut periods = Vec::new();
    for now in 0..10_000_u32 {
        let fault = if joined.state.mode().drives() {
            Fault::Sequence as u16
        } else {
            0
        };
        let before = joined.state.mode();
        joined.step(&config, &input(all, fault, 0.0));
        if (before, joined.state.mode()) == (Mode::Rise, Mode::Release) {
            periods.extend(last.map(|last| now - last));
            last = Some(now);
        }
    }
    assert!(periods.len() > 5);
    let sequence = stated.release + stated.out_of_damped + 2;
    assert!(periods.iter().all(|n| *n == sequence), "{periods:?}");
    // A floor that is too rough the moment the seat is Active again: the fastest of all.
    let mut joined = active();
    let mut last = None;
    let mut periods = Vec::new();
    for now in 0..10_000_u32 {
        let before = joined.state.mode();
        let mut rough = input(all, 0, 0.0);
        rough.beyond = before == Mode::Active;
        joined.step(&config, &rough);
        if (before, joined.state.mode()) == (Mode::Active, Mode::Beyond) {
            periods.extend(last.map(|last| now - last));
            last = Some(now);
        }
    }
    assert!(periods.len() > 5);
    assert!(
        periods.iter().all(|n| *n == stated.period_at_rest),
        "{periods:?}"
    );
}

/// The page and the picture in the documentation are what the code gives.
#[test]
fn documentation_is_made_from_the_code() {
    let proof = proof_of_default();
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../docs/");
    for (name, text) in [
        ("modes.md", page::markdown(proof)),
        ("modes.svg", diagram::svg(proof)),
    ] {
        let committed = std::fs::read_to_string(format!("{folder}{name}")).unwrap();
        assert!(
            committed.replace("\r\n", "\n") == text,
            "docs/{name} is not what the code gives: run `becalm modes --svg docs/modes.svg --markdown docs/modes.md`"
        );
    }
}
