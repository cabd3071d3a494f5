//! Rides with the page that plays them.

pub mod browser;

use host_sim::fault::{self, Fault};
use host_sim::floor::FloorSpec;
use host_sim::player::Recorder;
use host_sim::ride::{self, RideSpec, Sample};
use host_sim::rig::Rig;
use host_sim::summary::Summary;

/// A ride, its page, and everything that was seen of it.
pub struct Ridden {
    pub html: String,
    pub summary: Summary,
    pub samples: Vec<Sample>,
}

/// Rides and keeps every sample.
pub fn ridden(rig: &Rig, spec: &RideSpec) -> Ridden {
    let mut recorder = Recorder::new(rig, spec).expect("a recorder");
    let mut samples = Vec::new();
    let summary = ride::run(rig, spec, |sample| {
        recorder.push(sample);
        samples.push(*sample);
        true
    })
    .expect("a ride");
    let html = recorder.page(&summary).expect("a page");
    Ridden {
        html,
        summary,
        samples,
    }
}

/// A ride on a named floor whose first 2 s do not count.
pub fn spec(floor: &str, level: f64, seconds: f64) -> RideSpec {
    let mut spec = RideSpec::on(FloorSpec {
        level,
        ..FloorSpec::named(floor)
    });
    (spec.seconds, spec.skip_s) = (seconds, 2.0);
    spec
}

/// A fault by name as the catalogue has it, from `onset_s` on.
pub fn fault(name: &str, onset_s: f64) -> Fault {
    let all = fault::catalogue();
    let entry = all.iter().find(|e| e.name == name).expect("a fault");
    Fault {
        onset_s,
        ..Fault::usual(entry)
    }
}

/// The text of a script element with that id.
pub fn data<'a>(html: &'a str, id: &str) -> &'a str {
    let opening = format!("id=\"{id}\">");
    let from = html.find(&opening).expect("the element") + opening.len();
    let length = html[from..].find("</script>").expect("its end");
    &html[from..from + length]
}
