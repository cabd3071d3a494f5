//! Whatever frames come in: the command stays within the stated force, nothing drives outside of a motion, every
//! finding is finite. Our own rule.

use firmware::commission::{DRIVING, State};
use firmware::{Commission, DriveFrame, SensorFrame, Switches};
use host_sim::commission::{Spec, run};
use host_sim::design;
use host_sim::rig::Rig;

/// xorshift64*, for repeatable noise.
struct Noise(u64);

impl Noise {
    fn next(&mut self) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        self.0.wrapping_mul(0x2545_F491_4F6C_DD1D)
    }

    fn within(&mut self, most: i16) -> i16 {
        (self.next() >> 40) as i16 % (most + 1)
    }
}

struct Machine {
    rig: Rig,
    test: Commission,
    most_counts: f32,
}

fn machine() -> Machine {
    let rig = Rig::default_machine().expect("the default rig");
    let p = design::parameters(&rig).expect("parameters");
    let most_a = p.commission.force_max_n / p.limit.force_constant_npa;
    Machine {
        test: Commission::new(&p).expect("a test"),
        most_counts: most_a / p.calibrate.current.per_count,
        rig,
    }
}

fn consistent(test: &Commission, drive: &DriveFrame, most_counts: f32) {
    let state = test.state();
    let drives = matches!(state, State::Motion(_));
    assert_eq!(drive.has(DriveFrame::ENABLE), drives, "{state:?} {drive:?}");
    assert_eq!(drive.has(DriveFrame::DAMP), !drives, "{state:?} {drive:?}");
    assert_eq!(drive.mode == DRIVING, drives);
    let size = f32::from(drive.current_command).abs();
    assert!(size <= if drives { most_counts } else { 0.0 }, "{drive:?}");
    if let Some(f) = test.result() {
        assert_eq!(state, State::Done);
        for v in &f.verdicts {
            assert!(v.found.is_finite() && v.tolerance.is_finite(), "{v:?}");
        }
    }
}

/// Any bits at all.
#[test]
fn any_bit_pattern() {
    let m = machine();
    let mut noise = Noise(2631);
    for _ in 0..300 {
        let mut test = m.test.clone();
        for n in 0..400_u16 {
            let mut bytes = [0; SensorFrame::BYTES];
            for part in bytes.chunks_mut(8) {
                part.copy_from_slice(&noise.next().to_le_bytes());
            }
            let mut frame = SensorFrame::from_bytes(bytes);
            if noise.next() & 1 == 0 {
                (frame.sequence, frame.marks.0) = (n, 0);
            }
            let drive = test.step(&frame);
            assert_eq!(drive.sequence, frame.sequence);
            consistent(&test, &drive, m.most_counts);
        }
    }
}

/// Believable frames with nothing behind them, so that the test goes on: random current, travel and accelerations
/// within what the checks let pass. Some runs come to an end, and their findings are finite.
#[test]
fn believable_nonsense() {
    let m = machine();
    let mut noise = Noise(5349);
    let mut reached = [0_u32; 3];
    for round in 0..40 {
        let mut test = m.test.clone();
        // A travel at the test frequencies, of about the wanted size; quiet or random currents.
        let size = 250.0 + f32::from(noise.within(50));
        let sine =
            |n: u32, steps: u32| (std::f32::consts::TAU * (n % steps) as f32 / steps as f32).sin();
        let current = [0, 1, 200, 20_000][round % 4];
        for n in 0..60_000_u32 {
            let arm = if n > 10 { Switches::ARM } else { 0 };
            let swing = size
                * match test.state() {
                    State::Motion(0) => sine(n, 222),
                    State::Motion(3) => sine(n, 167) + sine(n, 2004),
                    State::Motion(_) => sine(n, 167),
                    _ => 0.0,
                };
            let frame = SensorFrame {
                sequence: n as u16,
                floor_accel: noise.within(60),
                seat_accel: noise.within(if n > 4000 { 3_000 } else { 60 }),
                travel: swing as i16 + noise.within(60),
                current: if current > 0 {
                    noise.within(current)
                } else {
                    0
                },
                supply: 4800,
                coil_temperature: 300,
                switches: Switches(Switches::STOP_CIRCUIT | arm),
                marks: firmware::Marks(0),
            };
            let drive = test.step(&frame);
            consistent(&test, &drive, m.most_counts);
            if matches!(test.state(), State::Done | State::Aborted(_)) {
                break;
            }
        }
        match test.state() {
            State::Done => reached[0] += 1,
            State::Aborted(_) => reached[1] += 1,
            _ => reached[2] += 1,
        }
        assert!(!test.may_arm(), "armed by nonsense");
    }
    // Without any current nothing can be determined; all others come to a finding.
    assert_eq!(reached, [30, 10, 0]);
}

/// The plant's own frames with one field replaced by random bits now and then: ends, and never arms by a
/// number that is not finite.
#[test]
fn a_sound_machine_with_glitches() {
    let m = machine();
    for seed in 1..=6 {
        let mut noise = Noise(seed * 77 + 1);
        let run = run(&m.rig, &Spec::of(seed), |_, frame| {
            if noise.next().is_multiple_of(200) {
                let bits = noise.next() as i16;
                match noise.next() % 4 {
                    0 => frame.floor_accel = bits,
                    1 => frame.seat_accel = bits,
                    2 => frame.travel = bits,
                    _ => frame.current = bits,
                }
            }
        })
        .expect("a run");
        assert!(f64::from(m.most_counts) * m.rig.sensors.current.per_count >= run.command_peak_a);
        assert_eq!(run.contacts, 0);
        consistent(&run.commission, &DriveFrame::SAFE, m.most_counts);
        assert!(matches!(
            run.commission.state(),
            State::Done | State::Aborted(_)
        ));
    }
}
