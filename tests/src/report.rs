//! Rides with a report, and a reader of its page.

use host_sim::floor::FloorSpec;
use host_sim::report::Collector;
use host_sim::ride::{self, RideSpec, Sample};
use host_sim::rig::Rig;
use host_sim::summary::Summary;
use roxmltree::{Document, Node, ParsingOptions};
use std::sync::OnceLock;

/// Runs a ride; `change` may alter each sample before the report sees it.
pub fn ridden(spec: &RideSpec, rig: &Rig, change: impl Fn(u64, &mut Sample)) -> (String, Summary) {
    let mut collector = Collector::new(rig, spec).unwrap();
    let mut k = 0;
    let summary = ride::run(rig, spec, |sample| {
        let mut sample = *sample;
        change(k, &mut sample);
        collector.push(&sample);
        k += 1;
        true
    })
    .unwrap();
    (collector.page(&summary).unwrap(), summary)
}

/// A ride at level 2 whose first 2 s do not count.
pub fn spec(name: &str, seconds: f64) -> RideSpec {
    let mut spec = RideSpec::on(FloorSpec {
        level: 2.0,
        ..FloorSpec::named(name)
    });
    (spec.seconds, spec.skip_s) = (seconds, 2.0);
    spec
}

/// One ride for the tests that only read the page.
pub fn plain() -> &'static (String, Summary) {
    static PAGE: OnceLock<(String, Summary)> = OnceLock::new();
    PAGE.get_or_init(|| {
        let rig = Rig::default_machine().unwrap();
        ridden(&spec("hauler", 14.0), &rig, |_, _| {})
    })
}

/// The page as a tree; panics when it is not well-formed.
pub fn parse(page: &str) -> Document<'_> {
    let options = ParsingOptions {
        allow_dtd: true,
        ..ParsingOptions::default()
    };
    Document::parse_with_options(page, options).expect("a well-formed page")
}

/// All text inside a node.
pub fn text(node: Node<'_, '_>) -> String {
    node.descendants()
        .filter(Node::is_text)
        .filter_map(|n| n.text())
        .collect()
}

/// The node with an id.
pub fn by_id<'a>(page: &'a Document<'_>, id: &str) -> Node<'a, 'a> {
    page.descendants()
        .find(|n| n.attribute("id") == Some(id))
        .unwrap_or_else(|| panic!("nothing has the id {id}"))
}
