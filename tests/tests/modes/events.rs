//! The event log: every change of mode or fault, the newest 16, oldest first. Our own rule.

use becalm_tests::modes::{ALL_ON, Feed, mode};
use firmware::{Faults, Mode, Switches};

const KEPT: usize = 16;

#[test]
fn keeps_the_newest_changes() {
    let mut feed = Feed::new();
    let mut changes = Vec::new();
    let mut last = (Mode::Off, 0);
    // One step has been made.
    let mut step = 1_u32;
    // Through the modes again and again: armed, seated, low supply, open stop circuit, left, disarmed.
    for round in 0..8 {
        for (switches, supply, steps) in [
            (ALL_ON, 4800, 900),
            (ALL_ON, 3000, 40),
            (ALL_ON, 4800, 1500),
            (ALL_ON & !Switches::STOP_CIRCUIT, 4800, 20),
            (ALL_ON & !Switches::OCCUPANT, 4800, 1400),
            (Switches::STOP_CIRCUIT, 4800, 200),
        ] {
            feed.frame.switches = Switches(switches);
            feed.frame.supply = supply;
            for _ in 0..steps {
                let drive = feed.step();
                let now = (mode(&drive), drive.faults);
                if now != last {
                    changes.push((step, now.0, Faults(now.1)));
                    last = now;
                }
                step += 1;
                let log: Vec<_> = feed.cycle.events().collect();
                let kept = changes.len().min(KEPT);
                assert_eq!(log.len(), kept, "round {round}");
                // Compared whole only after a change; it is slow and nothing else can alter it.
                if changes.last().is_some_and(|c| c.0 + 1 == step) {
                    let found: Vec<_> = log.iter().map(|e| (e.step, e.mode, e.faults)).collect();
                    assert_eq!(found, changes[changes.len() - kept..], "round {round}");
                }
            }
        }
    }
    assert!(changes.len() > 3 * KEPT, "{}", changes.len());
}
