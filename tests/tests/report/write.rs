//! Writing the ride report: whole or not at all.

use host_sim::floor::FloorSpec;
use host_sim::report::{Collector, FILE_NAME, ReportError};
use host_sim::ride::{self, RideSpec};
use host_sim::rig::Rig;
use host_sim::summary::Summary;
use std::fs;
use std::path::{Path, PathBuf};

fn folder(name: &str) -> PathBuf {
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("report-{name}"));
    let _ = fs::remove_dir_all(&path);
    fs::create_dir_all(&path).unwrap();
    path
}

fn spec() -> RideSpec {
    let mut spec = RideSpec::on(FloorSpec::named("loader"));
    (spec.seconds, spec.skip_s) = (2.0, 0.5);
    spec
}

fn ridden() -> (Collector, Summary) {
    let rig = Rig::default_machine().unwrap();
    let mut collector = Collector::new(&rig, &spec()).unwrap();
    let summary = ride::run(&rig, &spec(), |sample| {
        collector.push(sample);
        true
    })
    .unwrap();
    (collector, summary)
}

fn names(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(folder)
        .unwrap()
        .map(|e| e.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}

#[test]
fn the_folder_is_made_and_holds_the_page_alone() {
    let root = folder("made");
    let (collector, summary) = ridden();
    let inner = root.join("a/b");
    collector.write(&summary, &inner).unwrap();
    assert_eq!(names(&inner), [FILE_NAME]);
    let page = fs::read_to_string(inner.join(FILE_NAME)).unwrap();
    assert!(page.starts_with("<!DOCTYPE html>") && page.ends_with("</html>\n"));
}

#[test]
fn a_page_that_is_there_is_replaced() {
    let root = folder("replaced");
    fs::write(root.join(FILE_NAME), "old").unwrap();
    let (collector, summary) = ridden();
    collector.write(&summary, &root).unwrap();
    assert!(fs::metadata(root.join(FILE_NAME)).unwrap().len() > 10_000);
}

#[test]
fn a_folder_that_cannot_be_made_is_named_and_nothing_is_left() {
    let root = folder("blocked");
    fs::write(root.join("file"), "a file, not a folder").unwrap();
    let (collector, summary) = ridden();
    let wanted = root.join("file/out");
    let error = collector.write(&summary, &wanted).unwrap_err();
    assert!(matches!(error, ReportError::Write { .. }), "{error:?}");
    let text = error.to_string();
    assert!(
        text.contains(&wanted.display().to_string()) && text.contains("cannot be written"),
        "{text}"
    );
    assert_eq!(names(&root), ["file"]);
    assert_eq!(
        fs::read_to_string(root.join("file")).unwrap(),
        "a file, not a folder"
    );
}

#[test]
fn a_page_that_cannot_be_put_in_place_leaves_no_draft() {
    let root = folder("in-the-way");
    fs::create_dir(root.join(FILE_NAME)).unwrap();
    let (collector, summary) = ridden();
    let error = collector.write(&summary, &root).unwrap_err();
    assert!(error.to_string().contains(FILE_NAME), "{error}");
    assert_eq!(names(&root), [FILE_NAME]);
    assert!(root.join(FILE_NAME).is_dir());
}

#[test]
fn an_empty_ride_is_refused() {
    let root = folder("empty");
    let (_, summary) = ridden();
    let collector = Collector::new(&Rig::default_machine().unwrap(), &spec()).unwrap();
    let error = collector.write(&summary, &root).unwrap_err();
    assert!(matches!(error, ReportError::Empty), "{error:?}");
    assert!(names(&root).is_empty());
}
