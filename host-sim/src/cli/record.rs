//! What a ride leaves: what the law did, the JSON record, the trace, the report.

use super::Failure;
use firmware::{Faults, Mode};
use host_sim::fault_words::fault_words;
use host_sim::limits::constant;
use host_sim::output::{MADE_BY, OutputError, ResultFile, ResultFolder};
use host_sim::player::{self, Recorder as Player};
use host_sim::report::{self, Collector};
use host_sim::ride::{RideSpec, Sample};
use host_sim::rig::Rig;
use host_sim::summary::{FloorFigures, SeatFigures, Summary, TravelFigures};
use host_sim::trace::{Seat, TraceWriter};
use serde::Serialize;
use std::fs::File;
use std::io::BufWriter;

/// Hardest meeting with a stop that is accepted, m/s.
pub(super) const ACCEPTED_CONTACT_MPS: f64 = constant::STOP_TOUCH_SPEED;

/// Why the passive seat alone has no report.
const NO_REPORT: &str =
    "No report.html and no ride.html: they compare both seats, and --passive shows one.";

/// What the law did, after the start that is left out.
#[derive(Clone, Debug, Default, Serialize)]
pub(super) struct LawFigures {
    /// Largest travel over the usable one.
    pub(super) travel_share: f64,
    /// Share of the time in which the arrest changed what isolation wanted.
    pub(super) arrest_share: f64,
    /// Share of the time in mode active, derated or beyond.
    pub(super) isolating_share: f64,
    /// Share of the time in mode derated.
    pub(super) derated_share: f64,
    /// Share of the time in mode beyond: an assumption of the proof did not hold.
    pub(super) beyond_share: f64,
    /// Peak force over what the largest current gives.
    pub(super) force_share: f64,
    /// The faults when one was latched, at any time of the ride.
    pub(super) latched_fault: Option<String>,
}

/// Counts what the law does.
#[derive(Default)]
struct Watch {
    skip_s: f64,
    travel_m: f64,
    force_max_n: f64,
    count: u64,
    arrest: u64,
    isolating: u64,
    derated: u64,
    beyond: u64,
    travel_peak_m: f64,
    force_peak_n: f64,
    fault: Option<(f64, Faults)>,
}

impl Watch {
    fn push(&mut self, s: &Sample) {
        let mode = Mode::from_code(s.drive.mode);
        if mode == Some(Mode::Fault) && self.fault.is_none() {
            self.fault = Some((s.time_s, s.inside.faults));
        }
        if s.time_s < self.skip_s {
            return;
        }
        self.count += 1;
        self.isolating += u64::from(s.isolates());
        self.derated += u64::from(mode == Some(Mode::Derated));
        self.beyond += u64::from(mode == Some(Mode::Beyond));
        self.arrest += u64::from(s.arrest_mps2() != 0.0);
        self.travel_peak_m = self.travel_peak_m.max(s.travel.abs());
        self.force_peak_n = self.force_peak_n.max(s.force.abs());
    }

    fn figures(&self) -> LawFigures {
        let share = |part: u64| part as f64 / self.count.max(1) as f64;
        LawFigures {
            travel_share: self.travel_peak_m / self.travel_m,
            arrest_share: share(self.arrest),
            isolating_share: share(self.isolating),
            derated_share: share(self.derated),
            beyond_share: share(self.beyond),
            force_share: self.force_peak_n / self.force_max_n,
            latched_fault: self
                .fault
                .map(|(at_s, faults)| format!("{} at {at_s:.3} s", fault_names(faults))),
        }
    }
}

fn fault_names(faults: Faults) -> String {
    let names = fault_words(faults);
    if names.is_empty() {
        "cause gone".to_owned()
    } else {
        names.join(", ")
    }
}

/// Record of a whole ride.
#[derive(Serialize)]
struct Whole<'a> {
    made_by: &'a str,
    #[serde(flatten)]
    summary: &'a Summary,
    law: &'a LawFigures,
}

/// Record of the passive seat alone: the same keys, without those of the law.
#[derive(Serialize)]
struct PassiveAlone<'a> {
    made_by: &'a str,
    floor: &'a FloorFigures,
    passive: &'a SeatFigures,
    seat_value_passive: Option<f64>,
    passive_travel: &'a TravelFigures,
    real_time_factor: f64,
    seed: u64,
    occupant_kg: f64,
    body: &'a str,
    seconds: f64,
    skipped_s: f64,
}

/// All figures of a ride as they are given to the user.
pub(super) struct RideRecord {
    summary: Summary,
    law: Option<LawFigures>,
}

impl RideRecord {
    /// `law` is left out for the passive seat alone.
    pub(super) fn new(summary: Summary, law: LawFigures, passive_alone: bool) -> Self {
        Self {
            summary,
            law: (!passive_alone).then_some(law),
        }
    }

    pub(super) fn summary(&self) -> &Summary {
        &self.summary
    }

    /// What the law did; `None` for the passive seat alone.
    pub(super) fn law(&self) -> Option<&LawFigures> {
        self.law.as_ref()
    }

    /// One JSON object, with a line end.
    pub(super) fn json(&self) -> Result<String, Failure> {
        let s = &self.summary;
        let text = match &self.law {
            Some(law) => serde_json::to_string_pretty(&Whole {
                made_by: MADE_BY,
                summary: s,
                law,
            })?,
            None => serde_json::to_string_pretty(&PassiveAlone {
                made_by: MADE_BY,
                floor: &s.floor,
                passive: &s.passive,
                seat_value_passive: s.seat_value_passive,
                passive_travel: &s.passive_travel,
                real_time_factor: s.real_time_factor,
                seed: s.seed,
                occupant_kg: s.occupant_kg,
                body: s.body,
                seconds: s.seconds,
                skipped_s: s.skipped_s,
            })?,
        };
        Ok(text + "\n")
    }
}

type Trace = TraceWriter<BufWriter<File>>;

/// The pages about a ride.
struct Pages {
    report: Collector,
    player: Player,
}

/// Takes every sample of a ride to where it is wanted.
pub(super) struct Recorder {
    watch: Watch,
    folder: Option<(ResultFolder, Trace)>,
    file: Option<(ResultFile, Trace)>,
    /// Of a ride with the law whose results go to a folder.
    pages: Option<Box<Pages>>,
    failure: Option<OutputError>,
}

impl Recorder {
    /// Starts the trace in the folder and the one in a file of its own, where wanted.
    pub(super) fn new(
        rig: &Rig,
        spec: &RideSpec,
        seat: Seat,
        folder: Option<ResultFolder>,
        file: Option<(ResultFile, File)>,
    ) -> Result<Self, Failure> {
        let open = |file| TraceWriter::new(BufWriter::with_capacity(1 << 16, file), seat);
        let pages = match (&folder, seat) {
            (Some(_), Seat::Law) => Some(Box::new(Pages {
                report: Collector::new(rig, spec)?.beside_player(),
                player: Player::new(rig, spec)?,
            })),
            _ => None,
        };
        let folder = match folder {
            None => None,
            Some(folder) => {
                let trace = File::create_new(folder.staging().join("trace.csv")).and_then(open);
                let trace = trace.map_err(|e| folder.error("trace.csv", e))?;
                Some((folder, trace))
            }
        };
        let file = match file {
            None => None,
            Some((place, file)) => {
                let trace = open(file).map_err(|e| place.error(e))?;
                Some((place, trace))
            }
        };
        let force_constant = rig.actuator.force_constant_npa;
        Ok(Self {
            watch: Watch {
                skip_s: spec.skip_s,
                travel_m: rig.seat.travel_m,
                force_max_n: force_constant * rig.actuator.current_max_a,
                ..Watch::default()
            },
            folder,
            file,
            pages,
            failure: None,
        })
    }

    /// Takes a sample; false when it cannot be written.
    pub(super) fn push(&mut self, sample: &Sample) -> bool {
        self.watch.push(sample);
        if let Some(pages) = &mut self.pages {
            pages.report.push(sample);
            pages.player.push(sample);
        }
        if let Some((folder, trace)) = &mut self.folder
            && let Err(error) = trace.push(sample)
        {
            self.failure = Some(folder.error("trace.csv", error));
        }
        if let Some((place, trace)) = &mut self.file
            && let Err(error) = trace.push(sample)
        {
            self.failure = Some(place.error(error));
        }
        self.failure.is_none()
    }

    /// The error that stopped the ride, if it was one of writing.
    pub(super) fn check(&mut self) -> Result<(), Failure> {
        self.failure
            .take()
            .map_or(Ok(()), |error| Err(error.into()))
    }

    /// What the law did.
    pub(super) fn law(&self) -> LawFigures {
        self.watch.figures()
    }

    /// Completes all files, then gives them their names. Tells what was written.
    pub(super) fn finish(self, record: &RideRecord) -> Result<Vec<String>, Failure> {
        let mut written = Vec::new();
        if let Some((place, trace)) = self.file {
            trace.finish().map_err(|e| place.error(e))?;
            written.push(place.path().display().to_string());
            place.publish()?;
        }
        if let Some((folder, trace)) = self.folder {
            trace.finish().map_err(|e| folder.error("trace.csv", e))?;
            folder.write("summary.json", &record.json()?)?;
            let path = folder.path().display().to_string();
            written.push(match self.pages {
                Some(pages) => {
                    let summary = record.summary();
                    folder.write(report::FILE_NAME, &pages.report.page(summary)?)?;
                    folder.write(player::FILE_NAME, &pages.player.page(summary)?)?;
                    format!("{path}\n  (report.html, ride.html, trace.csv, summary.json)")
                }
                None => format!("{path} (trace.csv, summary.json)\n{NO_REPORT}"),
            });
            folder.publish()?;
        }
        Ok(written)
    }
}
