//! The emulated cores: what a step costs there, and whether they answer with the host's bits.

use super::run::{Bench, DossierError, Outcome};
use crate::cores::timing::{self, TimingError};
use crate::cores::workload::workload;
use crate::cores::{self, BoardKind, Emulator};
use crate::design;
use crate::ride::{Arithmetic, RideError};
use firmware::{Cycle, DriveFrame, SensorFrame};
use serde_json::{Value, json};
use shared_math::{Q24, Scalar};

/// What is missing to run the emulated cores; none when all is there.
#[must_use]
pub(super) fn missing() -> Option<String> {
    let images = cores::images();
    let names = ["port", "bench", "batch", "recorder"];
    for board in BoardKind::ALL {
        if let Some(path) = names
            .iter()
            .map(|name| board.image(&images, name))
            .find(|path| !path.is_file())
        {
            return Some(format!(
                "no image {}: build the ports with firmware/boards/lane build, or say where they are with BECALM_IMAGES",
                path.display()
            ));
        }
    }
    cores::emulator_version()
        .is_none()
        .then(|| "no emulator qemu-system-arm: firmware/boards/lane setup installs it".to_owned())
}

/// Instructions, stack and memory on each core.
pub(super) fn timing(
    bench: &Bench<'_>,
    done: &(dyn Fn(f64) + Sync),
) -> Result<Outcome, DossierError> {
    if let Some(why) = missing() {
        return Ok(Outcome::NotRun(why));
    }
    let images = cores::images();
    let mut rows = Vec::new();
    for (n, board) in BoardKind::ALL.into_iter().enumerate() {
        let stretches = workload(bench.rig, board.arithmetic())?;
        let mut through = 0;
        let found = timing::measure(board, &images, &stretches, bench.rig.timing.step_s, || {
            through += 1;
            done((n as f64 + f64::from(through) / stretches.len() as f64) / 3.0);
            !(bench.stop)()
        });
        let (core, measured) = match found {
            Err(TimingError::Interrupted) => return Err(RideError::Interrupted.into()),
            other => other?,
        };
        let fields: Vec<Value> = measured
            .fields()
            .iter()
            .map(|(name, value)| json!({ "name": name, "value": value }))
            .collect();
        rows.push(json!({ "core": core, "fields": fields, "command": format!("becalm timing --core {}", board.name()) }));
    }
    Ok(Outcome::Ran(json!({ "cores": rows })))
}

/// Whether every core answers the workload's frames with the host's bits.
pub(super) fn parity(
    bench: &Bench<'_>,
    done: &(dyn Fn(f64) + Sync),
) -> Result<Outcome, DossierError> {
    if let Some(why) = missing() {
        return Ok(Outcome::NotRun(why));
    }
    let images = cores::images();
    let mut rows = Vec::new();
    for (n, board) in BoardKind::ALL.into_iter().enumerate() {
        let stretches = workload(bench.rig, board.arithmetic())?;
        for (k, stretch) in stretches.iter().enumerate() {
            if (bench.stop)() {
                return Err(RideError::Interrupted.into());
            }
            let host = match board.arithmetic() {
                Arithmetic::Fixed => answers::<Q24>(bench, &stretch.frames)?,
                Arithmetic::F32 => answers::<f32>(bench, &stretch.frames)?,
                Arithmetic::F64 => answers::<f64>(bench, &stretch.frames)?,
            };
            let batch = Emulator::batch(board, &images, &stretch.frames)?;
            let differs = host.iter().zip(&batch.steps).position(|(a, b)| *a != b.0);
            let same = differs.is_none() && host.len() == batch.steps.len();
            rows.push(json!({
                "core": board.name(), "stretch": stretch.name, "steps": host.len(), "same": same, "first_difference": differs,
            }));
            done((n as f64 + (k + 1) as f64 / stretches.len() as f64) / 3.0);
        }
    }
    Ok(Outcome::Ran(
        json!({ "stretches": rows, "command": "cargo test -p becalm-tests --test lane parity" }),
    ))
}

fn answers<S: Scalar>(
    bench: &Bench<'_>,
    frames: &[SensorFrame],
) -> Result<Vec<DriveFrame>, DossierError> {
    let mut cycle = Cycle::<S>::new(&design::parameters(bench.rig)?)?;
    Ok(frames.iter().map(|frame| cycle.step(frame)).collect())
}
