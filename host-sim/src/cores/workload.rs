//! Frames by which a core's time is measured: all modes, saturations, faults and nonsense.

use crate::body::Body;
use crate::closed_loop::{ClosedLoop, switches};
use crate::design;
use crate::floor::{self, FloorSpec, period_ends};
use crate::ride::{self, Arithmetic, OccupantChange, RideError, RideSpec};
use crate::rig::Rig;
use firmware::{Cycle, Marks, SensorFrame, Switches};
use shared_math::{Q24, Scalar};

/// One run of a fresh controller.
#[derive(Clone, Debug)]
pub struct Stretch {
    /// What it is.
    pub name: &'static str,
    /// Its frames, in order.
    pub frames: Vec<SensorFrame>,
}

/// Frames of a ride in closed loop on the host.
///
/// # Errors
/// As [`ride::run`].
pub fn ride_frames(rig: &Rig, spec: &RideSpec) -> Result<Vec<SensorFrame>, RideError> {
    let mut frames = Vec::with_capacity((spec.seconds * 1000.0) as usize);
    ride::run(rig, spec, |sample| {
        frames.push(sample.frame);
        true
    })?;
    Ok(frames)
}

/// The same, with frames that are broken before the law sees them. The seat does what the law makes of them.
fn broken_frames<S: Scalar>(
    rig: &Rig,
    spec: &RideSpec,
    count: usize,
    broken: fn(usize, &mut SensorFrame),
) -> Result<Vec<SensorFrame>, RideError> {
    let mut source = floor::build(&spec.floor, 1.0 / rig.timing.step_s)?;
    let floor: Vec<f64> = (0..=count).map(|_| source.next_accel()).collect();
    let cycle = Cycle::<S>::new(&design::parameters(rig)?)?;
    let body = Body::new(spec.body, spec.occupant_kg * rig.seat.on_seat_share);
    let mut machine = ClosedLoop::new(rig, cycle, body, spec.floor.seed, None);
    let mut frames = Vec::with_capacity(count);
    for n in 0..count {
        let (start, end) = period_ends(&floor, n);
        let asked = machine.ask_altered(start, switches(true), |frame| {
            if n >= BREAKS_AT {
                broken(n, frame);
            }
        });
        machine.advance(asked.answer, start, end);
        frames.push(asked.frame);
    }
    Ok(frames)
}

/// A ride of every mode: on a rough floor with an empty seat, somebody who sits down, leaves and is
/// followed by a heavier one.
#[must_use]
pub fn change_over() -> RideSpec {
    let mut spec = rough("hauler", 1.5, 30.0);
    spec.occupant_kg = 0.0;
    let change = |at_s, occupant_kg| OccupantChange { at_s, occupant_kg };
    spec.changes = vec![change(3.0, 80.0), change(12.0, 0.0), change(20.0, 130.0)];
    spec
}

fn rough(name: &str, level: f64, seconds: f64) -> RideSpec {
    let mut floor = FloorSpec::named(name);
    floor.level = level;
    let mut spec = RideSpec::on(floor);
    spec.seconds = seconds;
    spec
}

/// The whole workload of a core: at least 100 000 steps, the same every time. Its own arithmetic rides: a law that
/// sees what another one has done takes the motor for broken.
///
/// # Errors
/// As [`ride::run`].
pub fn workload(rig: &Rig, arithmetic: Arithmetic) -> Result<Vec<Stretch>, RideError> {
    let of = |mut spec: RideSpec| {
        spec.arithmetic = arithmetic;
        ride_frames(rig, &spec)
    };
    let mut hot = rough("hauler", 2.0, 20.0);
    hot.coil_c = Some(135.0);
    let mut heavy = rough("hauler", 4.0, 20.0);
    heavy.occupant_kg = 130.0;
    let rides = [
        ("everybody comes and goes", change_over()),
        ("hot coil", hot),
        ("130 kg at level 4", heavy),
        ("steep edge", rough("edge:flank=0.08", 1.0, 20.0)),
        ("hauler at level 2.5", rough("hauler", 2.5, 60.0)),
    ];
    let mut all = Vec::new();
    for (name, spec) in rides {
        let frames = of(spec)?;
        all.push(Stretch { name, frames });
    }
    for (name, level, count, broken) in BREAKAGES {
        let spec = rough("hauler", level, 60.0);
        let frames = match arithmetic {
            Arithmetic::F32 => broken_frames::<f32>(rig, &spec, count, broken)?,
            Arithmetic::F64 => broken_frames::<f64>(rig, &spec, count, broken)?,
            Arithmetic::Fixed => broken_frames::<Q24>(rig, &spec, count, broken)?,
        };
        all.push(Stretch { name, frames });
    }
    all.push(Stretch {
        name: "any bits",
        frames: any_bits(20_000),
    });
    Ok(all)
}

/// Name, level of the hauler floor, number of frames, and what breaks from [`BREAKS_AT`] on.
type Breakage = (&'static str, f64, usize, fn(usize, &mut SensorFrame));

/// The frame from which something is broken.
const BREAKS_AT: usize = 4000;

const BREAKAGES: [Breakage; 11] = [
    // On a floor within what the travel was proved for the fault comes in Active, not in Beyond.
    (
        "stuck floor accelerometer on a calm floor",
        0.5,
        8000,
        |_, f| {
            f.floor_accel = 77;
        },
    ),
    ("stuck floor accelerometer", 2.5, 8000, |_, f| {
        f.floor_accel = 77
    }),
    ("stuck travel sensor", 2.5, 8000, |_, f| f.travel = 150),
    ("open coil temperature sensor", 2.5, 6000, |_, f| {
        f.coil_temperature = i16::MAX;
    }),
    ("dead current sensor", 2.5, 8000, |_, f| f.current = 0),
    ("an output that cannot be set", 2.5, 6000, |_, f| {
        f.marks = Marks(Marks::OUTPUT);
    }),
    ("supply sags and comes back", 2.5, 8000, |n, f| {
        f.supply = if n % 1500 < 60 { 2000 } else { f.supply };
    }),
    ("frames skipped", 2.5, 8000, |n, f| {
        f.sequence = f.sequence.wrapping_add((n / 7) as u16);
    }),
    ("answers late", 2.5, 8000, |n, f| {
        f.marks = Marks(if n % 3 == 0 { Marks::LATE } else { 0 });
    }),
    ("stop circuit opens", 2.5, 8000, |n, f| {
        f.switches = Switches(if n % 2000 < 900 {
            f.switches.0 & !Switches::STOP_CIRCUIT
        } else {
            f.switches.0
        });
    }),
    ("disarmed, armed again", 0.5, 22_000, |n, f| {
        f.switches = Switches(if n < 20_000 {
            f.switches.0 & !Switches::ARM
        } else {
            f.switches.0
        });
    }),
];

/// Frames of any bits whatever, by xorshift64*.
fn any_bits(count: usize) -> Vec<SensorFrame> {
    let mut x = 0x9E37_79B9_7F4A_7C15_u64;
    let mut next = || {
        x ^= x >> 12;
        x ^= x << 25;
        x ^= x >> 27;
        x.wrapping_mul(0x2545_F491_4F6C_DD1D)
    };
    (0..count)
        .map(|_| {
            let mut bytes = [0; SensorFrame::BYTES];
            let (a, b) = bytes.split_at_mut(8);
            a.copy_from_slice(&next().to_le_bytes());
            b.copy_from_slice(&next().to_le_bytes());
            SensorFrame::from_bytes(bytes)
        })
        .collect()
}
