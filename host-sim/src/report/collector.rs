//! What is kept of a ride, sample by sample, in bounded memory.

use super::envelope::Envelope;
use super::modes::ModeLog;
use super::phase::Phase;
use super::response::{Band, bands};
use super::window::{Event, Window};
use super::{FILE_NAME, ReportError, page};
use crate::exposure::{ExposureFigures, ExposureMeter, SpineMeter, SpineRiskModel, Weighting};
use crate::floor;
use crate::floor::butterworth::{Cascade, Side, design};
use crate::ride::{RideSpec, Sample};
use crate::rig::Rig;
use crate::spectrum::{SpectrumError, Welch};
use crate::summary::Summary;
use std::fs::{self, File};
use std::io::Write;
use std::path::Path;

/// Buckets of the envelopes over the whole ride.
const BUCKETS: usize = 960;
/// Corner above which floor velocity is judged, Hz; that of the summary.
pub(super) const VELOCITY_CORNER_HZ: f64 = 0.3;
/// Longest segment of a spectrum, s.
const SEGMENT_MAX_S: f64 = 16.4;
/// Segments overlap by half: nine of them fit into five lengths.
const SEGMENTS_WANTED: f64 = 5.0;

/// Why a ride over one edge, bump or shock has no spectra: they are means over a steady floor.
const SINGLE_EVENT: &str = "A single event is no steady vibration: its mean over time depends on how \
     long the floor is still. A ride on a random floor has spectra; the command becalm sweep measures \
     the transmissibility.";

/// Signals in the envelopes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(usize)]
pub(super) enum Channel {
    FloorAccel,
    PassiveAccel,
    SeatAccel,
    PassiveTravel,
    Travel,
    Force,
    CoilC,
    HeatShare,
    TravelRateError,
    FloorVelocityError,
    MassEstimateKg,
    MassKg,
}

/// Number of signals.
pub(super) const CHANNELS: usize = 12;

/// Looks at every sample of a ride and keeps what the report needs.
pub struct Collector {
    rig: Rig,
    spec: RideSpec,
    step_s: f64,
    skip: u64,
    pushed: u64,
    envelope: Envelope<CHANNELS>,
    window: Window,
    phase_law: Phase,
    phase_passive: Phase,
    modes: ModeLog,
    law_spectrum: Welch,
    passive_spectrum: Welch,
    high_pass_truth: Cascade<1>,
    high_pass_estimate: Cascade<1>,
    floor_meter: ExposureMeter,
    floor_spine: SpineMeter,
    player: bool,
}

/// Everything kept, after the ride.
pub(super) struct Collected {
    pub(super) rig: Rig,
    pub(super) spec: RideSpec,
    pub(super) step_s: f64,
    /// Time ridden, s.
    pub(super) ridden_s: f64,
    pub(super) envelope: Envelope<CHANNELS>,
    pub(super) event: Event,
    pub(super) phase_law: Phase,
    pub(super) phase_passive: Phase,
    pub(super) modes: ModeLog,
    pub(super) spectra: Result<Spectra, String>,
    pub(super) floor: ExposureFigures,
    /// Stress of ISO 2631-5 if one sat on the floor itself, MPa.
    pub(super) floor_sd_mpa: f64,
    /// Whether the page that plays the ride stands beside the report.
    pub(super) player: bool,
}

/// Bands of both seats against the floor.
pub(super) struct Spectra {
    pub(super) law: Vec<Band>,
    pub(super) passive: Vec<Band>,
    pub(super) segment_s: f64,
    pub(super) segments: usize,
}

impl Collector {
    /// A collector for one ride; memory does not grow with its length.
    ///
    /// # Errors
    /// [`ReportError`] when the control rate is outside what exposure figures allow (400 Hz to
    /// 100 kHz).
    pub fn new(rig: &Rig, spec: &RideSpec) -> Result<Self, ReportError> {
        let step_s = rig.timing.step_s;
        let rate_hz = 1.0 / step_s;
        let counted_s = (spec.seconds - spec.skip_s).max(0.0);
        let longest = (counted_s / SEGMENTS_WANTED).min(SEGMENT_MAX_S) * rate_hz;
        let segment = 1_usize << (longest.max(64.0).log2().floor() as u32);
        let high_pass = || -> Result<_, ReportError> {
            Ok(Cascade::new(design::<1>(
                Side::High,
                VELOCITY_CORNER_HZ,
                rate_hz,
            )?))
        };
        Ok(Self {
            rig: rig.clone(),
            spec: spec.clone(),
            step_s,
            skip: (spec.skip_s * rate_hz).round() as u64,
            pushed: 0,
            envelope: Envelope::new(BUCKETS),
            window: Window::new(step_s),
            phase_law: Phase::new(rig.seat.travel_m),
            phase_passive: Phase::new(rig.seat.travel_m),
            modes: ModeLog::new(rig.seat.travel_m),
            law_spectrum: Welch::new(rate_hz, segment)?,
            passive_spectrum: Welch::new(rate_hz, segment)?,
            high_pass_truth: high_pass()?,
            high_pass_estimate: high_pass()?,
            floor_meter: ExposureMeter::new(Weighting::Wk, rate_hz, spec.skip_s)?,
            floor_spine: SpineMeter::new(rate_hz, spec.skip_s)?,
            player: false,
        })
    }

    /// The report links to the page that plays the ride, which stands in the same folder.
    #[must_use]
    pub fn beside_player(self) -> Self {
        Self {
            player: true,
            ..self
        }
    }

    /// Takes one sample. Every sample of the ride, in order.
    pub fn push(&mut self, sample: &Sample) {
        let s = sample;
        let motion = &s.inside.motion;
        let velocity = self.high_pass_truth.step(s.floor.velocity_mps);
        let velocity_estimate = self.high_pass_estimate.step(motion.floor_velocity);
        self.envelope.push(&[
            s.floor.accel_mps2,
            s.passive_accel,
            s.seat_accel,
            s.passive_travel,
            s.travel,
            s.force,
            s.coil_c,
            s.inside.drive.heat_share,
            motion.travel_rate - s.travel_rate,
            velocity_estimate - velocity,
            s.inside.mass * 1000.0,
            s.mass_kg,
        ]);
        let counts = self.pushed >= self.skip;
        self.window.push(
            [
                s.floor.accel_mps2 as f32,
                s.passive_accel as f32,
                s.seat_accel as f32,
                s.passive_travel as f32,
                s.travel as f32,
                s.travel_rate as f32,
                motion.travel_rate as f32,
                velocity as f32,
                velocity_estimate as f32,
            ],
            if counts { s.seat_accel.abs() } else { -1.0 },
        );
        self.modes
            .push(s.time_s, &s.drive, s.travel, s.passive_travel);
        self.floor_meter.push(s.floor.accel_mps2);
        self.floor_spine.push(s.floor.accel_mps2);
        if counts {
            self.phase_law.push(s.travel, s.travel_rate);
            self.phase_passive
                .push(s.passive_travel, s.passive_travel_rate);
            self.law_spectrum.push(s.floor.accel_mps2, s.seat_accel);
            self.passive_spectrum
                .push(s.floor.accel_mps2, s.passive_accel);
        }
        self.pushed += 1;
    }

    /// Writes `report.html` into `folder`, which is made when it is not there. The page appears
    /// whole or not at all; one that is there already is replaced.
    ///
    /// # Errors
    /// [`ReportError::Empty`] when nothing was pushed, [`ReportError::Write`] when the folder or
    /// the file cannot be written; nothing is left behind then.
    pub fn write(self, summary: &Summary, folder: &Path) -> Result<(), ReportError> {
        let page = self.page(summary)?;
        write_whole(folder, &page)
    }

    /// The page as text.
    ///
    /// # Errors
    /// [`ReportError::Empty`] when nothing was pushed, or a figure that cannot be drawn.
    pub fn page(self, summary: &Summary) -> Result<String, ReportError> {
        page::page(&self.finish()?, summary)
    }

    fn finish(self) -> Result<Collected, ReportError> {
        if self.pushed == 0 {
            return Err(ReportError::Empty);
        }
        let highest_hz = (0.5 / self.step_s).min(100.0);
        let event = floor::event_start_s(&self.spec.floor)?.is_some();
        let spectra = match (self.law_spectrum.finish(), self.passive_spectrum.finish()) {
            _ if event => Err(SINGLE_EVENT.to_owned()),
            (Ok(law), Ok(passive)) => Ok(Spectra {
                segment_s: 1.0 / law.frequency_hz.get(1).copied().unwrap_or(f64::NAN),
                segments: law.segments,
                law: bands(&law, 0.1, highest_hz),
                passive: bands(&passive, 0.1, highest_hz),
            }),
            (Err(SpectrumError::TooShort { found, expected }), _) => Err(format!(
                "The part of the ride that counts has {found} samples; a spectrum takes at least {expected}."
            )),
            (Err(e), _) | (_, Err(e)) => return Err(e.into()),
        };
        let dose = self.floor_spine.figures()?;
        Ok(Collected {
            ridden_s: self.pushed as f64 * self.step_s,
            event: self.window.finish(self.step_s),
            envelope: self.envelope,
            phase_law: self.phase_law,
            phase_passive: self.phase_passive,
            modes: self.modes,
            spectra,
            floor: self.floor_meter.figures()?,
            floor_sd_mpa: SpineRiskModel::MALE_82_KG.daily_stress_mpa(dose.dose_mps2),
            player: self.player,
            rig: self.rig,
            spec: self.spec,
            step_s: self.step_s,
        })
    }
}

impl Collected {
    /// One envelope as a line over the whole ride, values times `scale`.
    pub(super) fn trace(&self, channel: Channel, scale: f64) -> Vec<(f64, f64)> {
        self.envelope
            .trace(channel as usize, 0.0, self.step_s, scale)
    }

    /// Largest magnitude of some channels, 0 when there is none.
    pub(super) fn peak(&self, channels: &[Channel]) -> f64 {
        channels
            .iter()
            .filter_map(|&c| self.envelope.range(c as usize))
            .fold(0.0, |peak, (lo, hi)| peak.max(-lo).max(hi))
    }
}

/// Writes under another name first, so that the page is whole or absent.
fn write_whole(folder: &Path, page: &str) -> Result<(), ReportError> {
    let failed = |path: &Path| {
        let path = path.to_owned();
        move |source| ReportError::Write { path, source }
    };
    fs::create_dir_all(folder).map_err(failed(folder))?;
    let target = folder.join(FILE_NAME);
    let draft = folder.join(format!(".{FILE_NAME}.{}.part", std::process::id()));
    let written = File::create(&draft)
        .and_then(|mut file| {
            file.write_all(page.as_bytes())?;
            file.sync_all()
        })
        .and_then(|()| fs::rename(&draft, &target));
    if let Err(source) = written {
        // The draft may never have come to be; the first error is the one to tell.
        let _ = fs::remove_file(&draft);
        return Err(failed(&target)(source));
    }
    Ok(())
}
