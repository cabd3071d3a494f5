//! Limits, detection, verdicts and coverage of the campaign against figures made by hand.

use host_sim::campaign::case::{CaseFigures, Seat};
use host_sim::campaign::judge::{Detection, Verdict};
use host_sim::campaign::run::Ridden;
use host_sim::campaign::summary::{Summary, WEIGHTS, coverage_class, worst_of_each};
use host_sim::fault::Class;

const fn seat(contact_speed_mps: f64, peak_mps2: f64) -> Seat {
    Seat {
        contact_speed_mps,
        peak_mps2,
    }
}

/// A fault that is not felt. Limits: 0.25 m/s and 1.2 x 5 = 6 m/s2.
fn case(fault: &str) -> CaseFigures {
    CaseFigures {
        id: fault.to_owned(),
        fault: fault.to_owned(),
        floor: "hauler".to_owned(),
        level: 1.0,
        occupant_kg: 80.0,
        onset_s: 10.0,
        law: seat(0.0, 4.0),
        healthy: seat(0.0, 4.0),
        passive: seat(0.1, 5.0),
        unreacting: seat(0.0, 4.0),
        blow: seat(0.0, 1.0),
        motor_open: None,
        motor_shorted: None,
        at_once: Vec::new(),
        changes_after_s: None,
        change_mps2: 0.1,
        change_mps: 0.001,
        breaks_after_s: None,
        rate_wrong_after_s: None,
        noticed_after_s: None,
        noticed_as: Vec::new(),
        reaction_s: None,
        mode: "active".to_owned(),
        modes: Vec::new(),
        step_mps2: None,
        let_go_mps2: None,
        command: String::new(),
    }
}

// Judges: fault-contact, fault-peak-factor
#[test]
fn limits_follow_the_passive_seat_where_that_is_worse() {
    let mut c = case("travel-dead");
    assert_eq!(c.contact_limit_mps(), 0.25);
    assert_eq!(c.peak_limit_mps2(), 6.0);
    c.passive = seat(0.8, 3.0);
    assert_eq!(c.contact_limit_mps(), 0.8);
    assert_eq!(c.peak_limit_mps2(), 1.2 * 4.0);
    c.law = seat(0.8, 4.8);
    assert!(c.limits_hold());
    c.law.peak_mps2 = 4.81;
    assert_eq!(c.verdict(), Verdict::Broken);
    c.law = seat(0.81, 1.0);
    assert_eq!(c.verdict(), Verdict::Broken);
    c.law = seat(0.0, 1.0);
    c.step_mps2 = Some(3.01);
    assert_eq!(c.verdict(), Verdict::Broken);
    c.step_mps2 = Some(3.0);
    assert_eq!(c.verdict(), Verdict::Harmless);
}

// Judges: fault-notice, fault-notice-slow
#[test]
fn detection_counts_from_the_onset_or_from_the_effect() {
    let detection = |fault: &str, changes, noticed, wrong| {
        CaseFigures {
            changes_after_s: changes,
            noticed_after_s: noticed,
            rate_wrong_after_s: wrong,
            ..case(fault)
        }
        .detection()
    };
    use Detection as D;
    for (fault, within) in [
        ("travel-dead", 0.02),
        ("power-loss", 0.02),
        ("jitter", 0.02),
        ("no-force", 0.02),
        ("jammed", 0.1),
        ("travel-drift", 0.1),
    ] {
        assert_eq!(detection(fault, None, None, None), D::NotNeeded);
        assert_eq!(
            detection(fault, Some(1.0), Some(1.0 + within), Some(0.5)),
            D::InTime,
            "{fault}"
        );
        assert_eq!(
            detection(fault, Some(1.0), Some(1.001 + within), Some(0.5)),
            D::Late,
            "{fault}"
        );
        assert_eq!(
            detection(fault, None, Some(within), Some(0.0)),
            D::InTime,
            "{fault}"
        );
        assert_eq!(
            detection(fault, Some(1.0), None, Some(2.0)),
            D::Missed,
            "{fault}"
        );
    }
    // A drift has time until the travel rate is wrong.
    assert_eq!(
        detection("travel-drift", Some(1.0), Some(5.0), Some(5.0)),
        D::InTime
    );
    assert_eq!(
        detection("travel-drift", Some(1.0), Some(5.0), None),
        D::InTime
    );
    assert_eq!(
        detection("travel-drift", Some(1.0), None, None),
        D::NotYetDue
    );
    assert_eq!(detection("travel-dead", Some(1.0), None, None), D::Missed);
    // People need not be noticed.
    assert_eq!(
        detection("disarmed", Some(0.0), None, Some(0.0)),
        D::NotAsked
    );
}

/// One answer of several that holds contact and peak is enough, and so is the law's own; else nothing is held.
#[test]
fn held_at_once_is_what_one_answer_holds() {
    let told = |seats: &[Seat]| CaseFigures {
        unreacting: seat(1.0, 20.0),
        law: seat(1.0, 20.0),
        at_once: seats.to_vec(),
        ..case("travel-dead")
    };
    let (contact, peak, held) = (seat(0.3, 1.0), seat(0.0, 7.0), seat(0.2, 5.0));
    assert!(!told(&[]).is_held_at_once());
    assert!(!told(&[contact, peak]).is_held_at_once());
    assert!(told(&[contact, held, peak]).is_held_at_once());
    let law_holds = CaseFigures {
        law: seat(0.0, 4.0),
        ..told(&[peak])
    };
    assert!(law_holds.is_held_at_once());
    // Of two dangerous cases one: half of the one class that is there, whatever the law did.
    let summary = Summary::of(&Ridden {
        cases: vec![told(&[held]), told(&[peak]), case("travel-dead")],
        healthy: Vec::new(),
    });
    assert_eq!(summary.coverage_at_once, Some(0.5));
    assert_eq!(summary.coverage, Some(0.0));
    assert_eq!(summary.classes[0].at_once, 1);
}

#[test]
fn beyond_any_firmware_needs_a_lost_motor_or_a_blow_and_no_better_way() {
    let worse = |fault: &str, law: Seat, open: Seat, shorted: Seat| CaseFigures {
        law,
        unreacting: law,
        motor_open: Some(open),
        motor_shorted: Some(shorted),
        changes_after_s: Some(0.0),
        noticed_after_s: Some(0.0),
        ..case(fault)
    };
    let (hard, off) = (seat(1.04, 20.0), seat(1.0, 20.0));
    // Not more than 5 % above the best way.
    assert_eq!(
        worse("winding-open", hard, off, off).verdict(),
        Verdict::Beyond
    );
    let harder = worse("winding-open", seat(1.06, 20.0), off, off);
    assert_eq!(harder.verdict(), Verdict::Broken);
    assert_eq!(harder.out_of_reach(), off);
    // Each figure has its best way: shorted would not have met the stop.
    let shorted = CaseFigures {
        unreacting: seat(2.0, 40.0),
        ..worse("winding-open", hard, off, seat(0.0, 30.0))
    };
    assert_eq!(shorted.verdict(), Verdict::Broken);
    // A motor that obeys is not lost.
    assert_eq!(
        worse("travel-dead", hard, off, off).verdict(),
        Verdict::Broken
    );
    // What came before any answer could act is nobody's fault.
    let blow = CaseFigures {
        blow: seat(0.0, 20.0),
        ..worse("motor-reversed", seat(0.0, 20.5), off, off)
    };
    assert_eq!(blow.verdict(), Verdict::Beyond);
    // Nor is it held, and it must be noticed all the same.
    assert!(!blow.limits_hold());
    let unseen = CaseFigures {
        noticed_after_s: None,
        ..blow
    };
    assert_eq!(unseen.verdict(), Verdict::Missed);
}

/// A motor that no command reaches and that must be let go is let go at once: the step of that is nobody's fault, if the law
/// makes no larger one.
#[test]
fn a_step_is_beyond_where_letting_go_makes_it() {
    let stuck = |step: f64, let_go: Option<f64>, unreacting: Seat| CaseFigures {
        unreacting,
        changes_after_s: Some(0.0),
        noticed_after_s: Some(0.008),
        step_mps2: Some(step),
        let_go_mps2: let_go,
        ..case("current-loop-stuck")
    };
    let harm = seat(1.0, 40.0);
    assert_eq!(stuck(20.0, Some(19.5), harm).verdict(), Verdict::Beyond);
    // A larger one is the law's own, and so is one where the motor could have been left on.
    assert_eq!(stuck(21.0, Some(19.5), harm).verdict(), Verdict::Broken);
    let harmless = seat(0.0, 5.0);
    assert_eq!(stuck(20.0, Some(19.5), harmless).verdict(), Verdict::Broken);
    assert_eq!(stuck(20.0, None, harm).verdict(), Verdict::Broken);
    // Contact and peak are judged beside it: here they are no better than what any way of letting go leaves.
    let hard = |law: Seat| CaseFigures {
        law,
        motor_open: Some(seat(0.3, 21.0)),
        motor_shorted: Some(seat(0.2, 21.0)),
        ..stuck(20.0, Some(19.5), harm)
    };
    assert_eq!(hard(seat(0.21, 21.5)).verdict(), Verdict::Beyond);
    assert_eq!(hard(seat(0.26, 21.5)).verdict(), Verdict::Broken);
    assert_eq!(hard(seat(0.21, 22.5)).verdict(), Verdict::Broken);
    // A step within the limit needs no excuse.
    assert_eq!(stuck(2.9, None, harm).verdict(), Verdict::Held);
}

// Judges: fault-coverage
#[test]
fn coverage_weighs_classes_and_shares_a_class_among_its_cases() {
    let weight = |class| WEIGHTS.iter().find(|(c, _)| *c == class).unwrap().1;
    let dangerous = |fault: &str, n: usize, noticed: bool| CaseFigures {
        id: format!("{fault} {n}"),
        unreacting: seat(1.0, 4.0),
        changes_after_s: Some(0.1),
        noticed_after_s: noticed.then_some(0.01),
        ..case(fault)
    };
    let cases = vec![
        dangerous("travel-dead", 0, true),
        dangerous("travel-dead", 1, false),
        case("travel-coarse"),
        case("travel-noise"),
        dangerous("no-force", 0, true),
    ];
    let ridden = Ridden {
        cases,
        healthy: Vec::new(),
    };
    let summary = Summary::of(&ridden);
    let (sensor, actuator) = (weight(Class::Sensor) / 4.0, weight(Class::Actuator));
    let expected = (sensor + actuator) / (2.0 * sensor + actuator);
    assert!((summary.coverage.unwrap() - expected).abs() < 1.0e-12);
    assert_eq!(
        (summary.cases, summary.dangerous, summary.dangerous_detected),
        (5, 3, 2)
    );
    assert_eq!(summary.classes.len(), 2);
    assert_eq!(summary.classes[0].coverage, Some(0.5));
    let limits: Vec<_> = summary
        .broken_limits
        .iter()
        .map(|b| (b.limit, b.cases))
        .collect();
    assert_eq!(limits, [("detection_s", 1), ("coverage", 1)]);
    // Missed before held before harmless; each fault once.
    let order: Vec<&str> = worst_of_each(&ridden.cases)
        .iter()
        .map(|c| c.fault.as_str())
        .collect();
    assert_eq!(
        order,
        ["travel-dead", "no-force", "travel-coarse", "travel-noise"]
    );
    assert_eq!(summary.false_alarms, 0);
}

/// Bounds of ISO 13849-1, as public pages give them.
#[test]
fn classes_of_coverage() {
    for (coverage, class) in [
        (0.0, "none"),
        (0.599, "none"),
        (0.6, "low"),
        (0.899, "low"),
        (0.9, "medium"),
        (0.989, "medium"),
        (0.99, "high"),
        (1.0, "high"),
    ] {
        assert_eq!(coverage_class(coverage), class);
    }
}
