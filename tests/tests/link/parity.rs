//! A core that answers otherwise: the first step, stage and value that differ are named. The core is a
//! board in a thread behind a pseudo-terminal; what differs is a gain of the law. Our own rule.

use becalm_tests::link::line::board;
use becalm_tests::link::{parameters, ride_frames, terminal};
use firmware::Cycle;
use host_sim::cores::{self, CoreKind, Shadow};
use host_sim::ride::Arithmetic;
use std::path::Path;

/// A shadow whose host has the isolation's gain off by 1 % from the board's, and the first step at which the
/// host's own two laws differ in what isolation wants.
#[test]
fn the_first_difference_is_named() {
    let (master, path) = terminal();
    let thread = board::<f32>(master, parameters(), None);
    let kind = CoreKind::Serial(path);
    let core = cores::connect(&kind, Path::new(""), parameters())
        .expect("a board")
        .expect("not the host");
    assert_eq!(core.arithmetic, Arithmetic::F32);
    let mut other = *parameters();
    other.isolate.centre_hz *= 1.01;

    let mut here = Cycle::<f32>::new(&other).expect("a cycle");
    let mut there = Cycle::<f32>::new(parameters()).expect("a cycle");
    let mut first = None;
    let mut steps = Vec::new();
    for (n, frame) in ride_frames().iter().enumerate() {
        let (answer, inside) = here.watch(frame);
        if first.is_none() && inside.wanted.to_bits() != there.watch(frame).1.wanted.to_bits() {
            first = Some(n);
        }
        steps.push((*frame, answer));
    }
    let first = first.expect("they differ");
    assert!(first > 100, "the seat rises first");

    let mut shadow = Shadow::new(core, other);
    let difference = shadow
        .replay(&steps, |_| true)
        .expect("the link")
        .expect("a difference");
    println!("{difference}");
    assert_eq!((difference.step, difference.stage), (first, "isolate"));
    assert_eq!(difference.name, "wanted_mps2");
    let text = difference.to_string();
    assert!(
        text.contains(&format!("step {first}")) && text.contains("isolate"),
        "{text}"
    );
    drop(shadow);
    thread.join().expect("the board ends");
}

/// The same laws: no difference, over the serial device as over the emulator's socket.
#[test]
fn no_difference_where_there_is_none() {
    let (master, path) = terminal();
    let thread = board::<f32>(master, parameters(), None);
    let core = cores::connect(&CoreKind::Serial(path), Path::new(""), parameters());
    let core = core.expect("a board").expect("not the host");
    let mut cycle = Cycle::<f32>::new(parameters()).expect("a cycle");
    let steps: Vec<_> = ride_frames().iter().map(|f| (*f, cycle.step(f))).collect();
    let mut shadow = Shadow::new(core, *parameters());
    assert_eq!(shadow.replay(&steps, |_| true).expect("the link"), None);
    drop(shadow);
    thread.join().expect("the board ends");
}
