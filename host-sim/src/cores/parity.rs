//! Steps another core beside the host's law and finds the first difference.

use super::{Connected, CoreError};
use crate::ride::Arithmetic;
use firmware::link::{Bits, INSIDE, inside_bits};
use firmware::{Cycle, DriveFrame, Parameters, SensorFrame};
use shared_math::Q24;

/// Where two cores part ways.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Difference {
    /// Step, from zero.
    pub step: usize,
    /// Stage of the first value that differs.
    pub stage: &'static str,
    /// Name of that value.
    pub name: &'static str,
    /// Its bits on the host.
    pub host: u32,
    /// Its bits in the other core.
    pub other: u32,
}

impl core::fmt::Display for Difference {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(
            f,
            "the cores differ first at step {}: stage {}, {}: {:#010x} on the host, {:#010x} in the core",
            self.step, self.stage, self.name, self.host, self.other
        )
    }
}

/// Another core with the frames it has been given, so that a difference can be traced.
pub struct Shadow {
    core: Connected,
    parameters: Parameters,
    frames: Vec<SensorFrame>,
}

/// Steps before a difference that are looked into first.
const WINDOW: usize = 2000;

impl Shadow {
    /// Takes over a core that has just been reset.
    #[must_use]
    pub const fn new(core: Connected, parameters: Parameters) -> Self {
        Self {
            core,
            parameters,
            frames: Vec::new(),
        }
    }

    /// Arithmetic of the core.
    #[must_use]
    pub const fn arithmetic(&self) -> Arithmetic {
        self.core.arithmetic
    }

    /// Name of the core.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.core.remote.hello().core
    }

    /// One step there; the difference when its answer is not the host's.
    ///
    /// # Errors
    /// The link.
    pub fn step(
        &mut self,
        frame: &SensorFrame,
        host: &DriveFrame,
    ) -> Result<Option<Difference>, CoreError> {
        self.frames.push(*frame);
        let other = self.core.remote.step(frame)?;
        if other == *host {
            return Ok(None);
        }
        self.trace(host, &other).map(Some)
    }

    /// All steps there, in batches; the first difference. `progress` sees how many are done and may
    /// stop the work by returning false.
    ///
    /// # Errors
    /// The link.
    pub fn replay(
        &mut self,
        steps: &[(SensorFrame, DriveFrame)],
        mut progress: impl FnMut(usize) -> bool,
    ) -> Result<Option<Difference>, CoreError> {
        for batch in steps.chunks(self.core.remote.hello().batch) {
            if !progress(self.frames.len()) {
                return Ok(None);
            }
            let frames: Vec<SensorFrame> = batch.iter().map(|s| s.0).collect();
            let answers = self.core.remote.steps(&frames)?;
            for ((frame, host), (other, _)) in batch.iter().zip(answers) {
                self.frames.push(*frame);
                if other != *host {
                    return self.trace(host, &other).map(Some);
                }
            }
        }
        Ok(None)
    }

    /// The last frame given made the answers differ: where did it begin?
    fn trace(&mut self, host: &DriveFrame, other: &DriveFrame) -> Result<Difference, CoreError> {
        let last = self.frames.len() - 1;
        for from in [last.saturating_sub(WINDOW), 0] {
            let found = match self.core.arithmetic {
                Arithmetic::F32 => self.first::<f32>(from)?,
                Arithmetic::Fixed => self.first::<Q24>(from)?,
                Arithmetic::F64 => self.first::<f64>(from)?,
            };
            match found {
                // It began before the window.
                Some(difference) if difference.step == from && from > 0 => {}
                Some(difference) => return Ok(difference),
                None => break,
            }
        }
        Ok(Difference {
            step: last,
            ..answer_difference(host, other)
        })
    }

    /// Steps both anew and compares all that they see from step `from` on.
    fn first<S: Bits>(&mut self, from: usize) -> Result<Option<Difference>, CoreError> {
        let mut cycle = Cycle::<S>::new(&self.parameters)?;
        self.core.remote.reset()?;
        let (before, rest) = self.frames.split_at(from);
        self.core.remote.steps(before)?;
        for frame in before {
            cycle.step(frame);
        }
        for (n, frame) in rest.iter().enumerate() {
            let (_, inside) = cycle.watch(frame);
            let others = self.core.remote.inside(frame)?;
            for (((stage, name), host), (_, _, other)) in
                INSIDE.iter().zip(inside_bits(&inside)).zip(others)
            {
                if host != other {
                    return Ok(Some(Difference {
                        step: from + n,
                        stage,
                        name,
                        host,
                        other,
                    }));
                }
            }
        }
        Ok(None)
    }
}

/// All values agree, so the answer was made wrongly, or changed on its way.
fn answer_difference(host: &DriveFrame, other: &DriveFrame) -> Difference {
    let fields = |d: &DriveFrame| {
        [
            ("sequence", u32::from(d.sequence)),
            (
                "current_command",
                u32::from(d.current_command.cast_unsigned()),
            ),
            ("outputs", d.outputs.into()),
            ("mode", d.mode.into()),
            ("faults", d.faults.into()),
        ]
    };
    let pairs = fields(host).into_iter().zip(fields(other));
    let ((name, host), (_, other)) = pairs
        .into_iter()
        .find(|(h, o)| h != o)
        .unwrap_or((("answer", 0), ("answer", 0)));
    Difference {
        step: 0,
        stage: "answer",
        name,
        host,
        other,
    }
}
