//! The ride report as a page: well-formed, self-contained, bounded, safe with any name.

use becalm_tests::report::{by_id, parse, plain, ridden, spec, text};
use host_sim::floor::FloorSpec;
use host_sim::report::Collector;
use host_sim::ride::{self, RideSpec};
use host_sim::rig::Rig;
use std::collections::BTreeSet;

#[test]
fn page_is_well_formed_and_every_link_leads_somewhere() {
    let page = parse(&plain().0);
    let mut ids = BTreeSet::new();
    for id in page.descendants().filter_map(|n| n.attribute("id")) {
        assert!(ids.insert(id), "id {id} twice");
    }
    for node in page.descendants() {
        if let Some(link) = node.attribute("href") {
            assert!(
                ids.contains(link.strip_prefix('#').expect("a link inside")),
                "{link}"
            );
        }
        for id in node
            .attribute("aria-labelledby")
            .unwrap_or("")
            .split_whitespace()
        {
            assert!(ids.contains(id), "{id}");
        }
    }
}

#[test]
fn nothing_is_fetched_and_nothing_runs() {
    let page = plain().0.to_lowercase();
    for bad in [
        "http:",
        "https:",
        "//",
        "src=",
        "@import",
        "url(",
        "<script",
        "<link",
        "<iframe",
        "javascript:",
        "onload",
        "<image",
        "xlink",
    ] {
        let at = page.find(bad).map(|i| &page[i.saturating_sub(40)..i + 20]);
        assert!(at.is_none(), "{bad} in {at:?}");
    }
}

#[test]
fn names_with_markup_stay_names() {
    let name = "<b>a</b>&\"c'\u{1}.csv";
    let mut rig = Rig::default_machine().unwrap();
    rig.name = "rig </style><script>alert(1)</script>".to_owned();
    let spec = spec("loader", 4.0);
    let mut collector = Collector::new(&rig, &spec).unwrap();
    let mut summary = ride::run(&rig, &spec, |s| {
        collector.push(s);
        true
    })
    .unwrap();
    summary.floor.name = name.to_owned();
    let html = collector.page(&summary).unwrap();
    assert!(!html.contains("<script") && !html.contains("<b>"));
    let page = parse(&html);
    let heading = page.descendants().find(|n| n.has_tag_name("h1")).unwrap();
    assert!(
        text(heading).contains("<b>a</b>&\"c'\u{FFFD}.csv"),
        "{}",
        text(heading)
    );
    assert!(text(page.root()).contains(&rig.name));
}

#[test]
fn size_does_not_grow_with_the_ride() {
    let rig = Rig::default_machine().unwrap();
    let (short, _) = ridden(&spec("grader", 60.0), &rig, |_, _| {});
    let (long, _) = ridden(&spec("grader", 600.0), &rig, |_, _| {});
    for page in [&short, &long] {
        assert!(page.len() < 2_000_000, "{} bytes", page.len());
    }
    let ratio = long.len() as f64 / short.len() as f64;
    assert!(
        (0.5..1.3).contains(&ratio),
        "{} and {} bytes",
        short.len(),
        long.len()
    );
    parse(&long);
}

#[test]
fn a_ride_of_a_blink_still_makes_a_page() {
    let rig = Rig::default_machine().unwrap();
    let mut spec = RideSpec::on(FloorSpec::named("sine"));
    (spec.seconds, spec.skip_s) = (0.1, 0.05);
    let (html, _) = ridden(&spec, &rig, |_, _| {});
    let page = parse(&html);
    assert!(text(by_id(&page, "density")).contains("Not drawn"));
    assert!(!html.contains("NaN"));
}
