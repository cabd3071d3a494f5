//! Frames by which a core's time is measured: all modes, saturations, faults and nonsense.

use crate::floor::FloorSpec;
use crate::ride::{self, OccupantChange, RideError, RideSpec};
use crate::rig::Rig;
use firmware::{Marks, SensorFrame, Switches};

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

/// The whole workload: at least 100 000 steps, the same every time.
///
/// # Errors
/// As [`ride::run`].
pub fn workload(rig: &Rig) -> Result<Vec<Stretch>, RideError> {
    let hauler = ride_frames(rig, &rough("hauler", 2.5, 60.0))?;
    let mut hot = rough("hauler", 2.0, 20.0);
    hot.coil_c = Some(135.0);
    let mut heavy = rough("hauler", 4.0, 20.0);
    heavy.occupant_kg = 130.0;
    let mut all = vec![
        Stretch {
            name: "everybody comes and goes",
            frames: ride_frames(rig, &change_over())?,
        },
        Stretch {
            name: "hot coil",
            frames: ride_frames(rig, &hot)?,
        },
        Stretch {
            name: "130 kg at level 4",
            frames: ride_frames(rig, &heavy)?,
        },
        Stretch {
            name: "steep edge",
            frames: ride_frames(rig, &rough("edge:flank=0.08", 1.0, 20.0))?,
        },
    ];
    // On a floor within what the travel was proved for the fault comes in Active, not in Beyond.
    let mut frames = ride_frames(rig, &rough("hauler", 0.5, 8.0))?;
    for frame in frames.iter_mut().skip(4000) {
        frame.floor_accel = 77;
    }
    all.push(Stretch {
        name: "stuck floor accelerometer on a calm floor",
        frames,
    });
    for (name, count, broken) in BREAKAGES {
        let mut frames = hauler[..count].to_vec();
        for (n, frame) in frames.iter_mut().enumerate().skip(4000) {
            broken(n, frame);
        }
        all.push(Stretch { name, frames });
    }
    all.push(Stretch {
        name: "any bits",
        frames: any_bits(20_000),
    });
    all.push(Stretch {
        name: "hauler at level 2.5",
        frames: hauler,
    });
    Ok(all)
}

/// Name, number of frames, and what breaks from the 4000th on.
type Breakage = (&'static str, usize, fn(usize, &mut SensorFrame));

const BREAKAGES: [Breakage; 6] = [
    ("stuck floor accelerometer", 8000, |_, f| f.floor_accel = 77),
    ("supply sags and comes back", 8000, |n, f| {
        f.supply = if n % 1500 < 60 { 2000 } else { f.supply };
    }),
    ("frames skipped", 8000, |n, f| {
        f.sequence = f.sequence.wrapping_add((n / 7) as u16);
    }),
    ("answers late", 8000, |n, f| {
        f.marks = Marks(if n % 3 == 0 { Marks::LATE } else { 0 });
    }),
    ("stop circuit opens", 8000, |n, f| {
        f.switches = Switches(if n % 2000 < 900 {
            f.switches.0 & !Switches::STOP_CIRCUIT
        } else {
            f.switches.0
        });
    }),
    ("disarmed, armed again", 22_000, |n, f| {
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
