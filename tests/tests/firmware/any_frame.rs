//! Whatever frames come in, the drive frame is limited and consistent. All arithmetics.

use becalm_tests::brakes::Brakes;
use firmware::{Cycle, DriveFrame, Mode, Parameters, SensorFrame, Switches};
use host_sim::design;
use host_sim::rig::Rig;
use proptest::prelude::{Just, ProptestConfig, Strategy, any};
use proptest::{prop_oneof, proptest};
use shared_math::{Q24, Scalar};

/// A stretch of frames of one kind.
#[derive(Clone, Debug)]
enum Stretch {
    /// A calm, seated, armed machine: the firmware comes to drive.
    Healthy { steps: u16 },
    /// Every byte at random.
    Noise { seed: u64, steps: u16 },
    /// As healthy, with the bits of one field flipped.
    Flipped { field: u8, bits: u16, steps: u16 },
    /// Extreme but believable motion.
    Rough { seed: u64, steps: u16 },
    /// The same frame again and again.
    Frozen {
        bytes: [u8; SensorFrame::BYTES],
        steps: u16,
    },
    /// Healthy with other switches.
    Switched { switches: u8, steps: u16 },
}

fn stretch() -> impl Strategy<Value = Stretch> {
    prop_oneof![
        (1_u16..400).prop_map(|steps| Stretch::Healthy { steps }),
        (any::<u64>(), 1_u16..300).prop_map(|(seed, steps)| Stretch::Noise { seed, steps }),
        (0_u8..7, any::<u16>(), 1_u16..60).prop_map(|(field, bits, steps)| Stretch::Flipped {
            field,
            bits,
            steps
        }),
        (any::<u64>(), 1_u16..400).prop_map(|(seed, steps)| Stretch::Rough { seed, steps }),
        (any::<[u8; 16]>(), 1_u16..100).prop_map(|(bytes, steps)| Stretch::Frozen { bytes, steps }),
        (any::<u8>(), 1_u16..400)
            .prop_map(|(switches, steps)| Stretch::Switched { switches, steps }),
        Just(Stretch::Healthy { steps: 2500 }),
        // Long enough for a disarmed machine to leave a latched fault and drive again.
        Just(Stretch::Switched {
            switches: 0,
            steps: 200
        }),
    ]
}

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
        let span = 2 * i64::from(most) + 1;
        ((self.next() >> 33) as i64 % span - i64::from(most)) as i16
    }
}

fn frames(stretches: &[Stretch]) -> Vec<SensorFrame> {
    let mut out = Vec::new();
    let mut sequence = 0_u16;
    let mut calm = Noise(0x9E37_79B9);
    // Armed after the start, as the law demands.
    let arm = |sequence| if sequence > 1 { Switches::ARM } else { 0 };
    for stretch in stretches {
        let steps = match *stretch {
            Stretch::Healthy { steps }
            | Stretch::Noise { steps, .. }
            | Stretch::Flipped { steps, .. }
            | Stretch::Rough { steps, .. }
            | Stretch::Frozen { steps, .. }
            | Stretch::Switched { steps, .. } => steps,
        };
        let mut wild = Noise(match stretch {
            Stretch::Noise { seed, .. } | Stretch::Rough { seed, .. } => seed | 1,
            _ => 1,
        });
        for _ in 0..steps {
            sequence = sequence.wrapping_add(1);
            let mut frame = SensorFrame {
                sequence,
                floor_accel: calm.within(5),
                seat_accel: calm.within(5),
                travel: calm.within(2),
                current: calm.within(20),
                supply: 4800,
                coil_temperature: 250,
                switches: Switches(arm(sequence) | Switches::OCCUPANT | Switches::STOP_CIRCUIT),
                marks: firmware::Marks(0),
            };
            match *stretch {
                Stretch::Healthy { .. } => {}
                Stretch::Noise { .. } => {
                    let (a, b) = (wild.next().to_le_bytes(), wild.next().to_le_bytes());
                    let bytes = core::array::from_fn(|i| if i < 8 { a[i] } else { b[i - 8] });
                    frame = SensorFrame::from_bytes(bytes);
                }
                Stretch::Flipped { field, bits, .. } => {
                    let mut bytes = frame.to_bytes();
                    let [low, high] = bits.to_le_bytes();
                    bytes[2 * usize::from(field)] ^= low;
                    bytes[2 * usize::from(field) + 1] ^= high;
                    frame = SensorFrame::from_bytes(bytes);
                }
                Stretch::Rough { .. } => {
                    frame.floor_accel = wild.within(7000);
                    frame.seat_accel = wild.within(7000);
                    frame.travel = wild.within(90);
                    frame.current = wild.within(18_000);
                    frame.supply = 4800_u16.wrapping_add_signed(wild.within(1000));
                    frame.coil_temperature = 900 + wild.within(600);
                }
                Stretch::Frozen { bytes, .. } => frame = SensorFrame::from_bytes(bytes),
                Stretch::Switched { switches, .. } => frame.switches = Switches(switches),
            }
            out.push(frame);
        }
    }
    out
}

fn machine() -> (Parameters, i32) {
    let rig = Rig::default_machine().expect("the default rig");
    let parameters = design::parameters(&rig).expect("parameters");
    let most = parameters.limit.current_max_a / parameters.calibrate.current.per_count;
    (parameters, most.round() as i32)
}

/// The same, but nothing that is known twice is compared: these frames do not follow the commands, which would end
/// every ride at once.
fn credulous(parameters: &Parameters) -> Parameters {
    let mut credulous = *parameters;
    credulous.agree.current_a = 127.0;
    credulous.agree.load_n = 1.0e5;
    credulous.agree.load_change_n = 1.0e5;
    credulous.agree.travel_noise_m = 0.1;
    credulous.agree.travel_lost_m = 0.1;
    credulous
}

/// Steps a cycle over the frames; returns how many steps drove.
fn check<S: Scalar>(parameters: &Parameters, most_counts: i32, frames: &[SensorFrame]) -> u32 {
    let mut cycle = Cycle::<S>::new(parameters).expect("a cycle");
    let mut brakes = Brakes::default();
    let mut drove = 0;
    for (n, frame) in frames.iter().enumerate() {
        let (drive, inside) = cycle.watch(frame);
        let context = || format!("step {n}: {frame:?} gave {drive:?}");
        assert_eq!(drive.sequence, frame.sequence, "{}", context());
        let mode = Mode::from_code(drive.mode).unwrap_or_else(|| panic!("{}", context()));
        // One count of rounding. Where nothing drives the command is the share of the brake that is bridged.
        assert!(
            !mode.drives() || i32::from(drive.current_command).abs() <= most_counts + 1,
            "{}",
            context()
        );
        brakes.hold(&drive);
        let known =
            DriveFrame::ENABLE | DriveFrame::DAMP | DriveFrame::LEVEL_UP | DriveFrame::LEVEL_DOWN;
        assert_eq!(drive.outputs & !known, 0, "{}", context());
        if matches!(mode, Mode::Off | Mode::Passive | Mode::Damped | Mode::Fault) {
            // The command is the share of the brake that is bridged.
            assert!(
                !drive.has(DriveFrame::ENABLE) && drive.current_command >= 0,
                "{}",
                context()
            );
            // Only Passive lifts who rests on the lower stop, and only while nothing is wrong.
            let lifts = match mode {
                Mode::Passive if drive.faults == 0 => DriveFrame::LEVEL_UP,
                _ => 0,
            };
            assert_eq!(
                drive.outputs & (DriveFrame::LEVEL_UP | DriveFrame::LEVEL_DOWN) & !lifts,
                0,
                "{}",
                context()
            );
        }
        assert!(
            !(drive.has(DriveFrame::LEVEL_UP) && drive.has(DriveFrame::LEVEL_DOWN)),
            "{}",
            context()
        );
        // With a fault standing only what rides on gently, settles or leads the current to zero still drives; with
        // the stop circuit open nothing.
        let goes_on = matches!(mode, Mode::Limp | Mode::Release | Mode::Settle);
        if drive.faults != 0 && !goes_on || !frame.switches.has(Switches::STOP_CIRCUIT) {
            assert!(!mode.drives(), "{}", context());
        }
        let inside = inside.map(Scalar::to_f64);
        let numbers = [
            inside.wanted,
            inside.arrest.permitted,
            inside.drive.current,
            inside.drive.force,
            inside.drive.disturbance,
            inside.mass,
            inside.preload,
            inside.motion.travel,
            inside.motion.travel_rate,
            inside.motion.floor_velocity,
        ];
        assert!(
            numbers.iter().all(|x| x.is_finite()),
            "{numbers:?} at {}",
            context()
        );
        assert!(
            inside.mass > 0.0 && inside.mass < 0.2,
            "{} t at {}",
            inside.mass,
            context()
        );
        drove += u32::from(mode.drives());
    }
    drove
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 150,
        failure_persistence: None,
        rng_seed: proptest::test_runner::RngSeed::Fixed(2631),
        ..ProptestConfig::default()
    })]

    #[test]
    fn drive_frame_is_limited_and_consistent(
        cold in any::<bool>(),
        stretches in proptest::collection::vec(stretch(), 1..12),
    ) {
        let (parameters, most) = machine();
        let mut all = if cold { vec![] } else { vec![Stretch::Healthy { steps: 2500 }] };
        all.extend(stretches);
        let frames = frames(&all);
        check::<f32>(&parameters, most, &frames);
        check::<f64>(&parameters, most, &frames);
        check::<Q24>(&parameters, most, &frames);
        let parameters = credulous(&parameters);
        let drove = [
            check::<f32>(&parameters, most, &frames),
            check::<f64>(&parameters, most, &frames),
            check::<Q24>(&parameters, most, &frames),
        ];
        if !cold {
            assert!(drove.iter().all(|&n| n > 500), "the healthy start drives: {drove:?}");
        }
    }
}

/// The corners of every field, in every combination with the switches, on a driving machine.
#[test]
fn corners_of_every_field() {
    let (parameters, most) = machine();
    let corners = [i16::MIN, i16::MIN + 1, -1, 0, 1, i16::MAX];
    let mut all = frames(&[Stretch::Healthy { steps: 2500 }]);
    let mut sequence = all.last().map_or(0, |f| f.sequence);
    for a in corners {
        for b in corners {
            for c in corners {
                sequence = sequence.wrapping_add(1);
                all.push(SensorFrame {
                    sequence,
                    floor_accel: a,
                    seat_accel: b,
                    travel: c,
                    current: b,
                    supply: a as u16,
                    coil_temperature: c,
                    switches: Switches(sequence as u8),
                    marks: firmware::Marks(255),
                });
            }
        }
    }
    check::<f32>(&parameters, most, &all);
    check::<f64>(&parameters, most, &all);
    check::<Q24>(&parameters, most, &all);
    let parameters = credulous(&parameters);
    assert!(check::<f32>(&parameters, most, &all) > 500);
    assert!(check::<f64>(&parameters, most, &all) > 500);
    assert!(check::<Q24>(&parameters, most, &all) > 500);
}
