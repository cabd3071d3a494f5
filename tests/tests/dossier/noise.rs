//! How far a figure may move: against order statistics, printed tables of Student's t, scipy's paired test, and by hand.

use crate::compare::{compare, figure};
use host_sim::compare::noise::{Basis, Noise, band, deviation, of_the_worst, student};
use host_sim::dossier::Over;

/// Spread of the largest of n normal values: its density is n phi Phi^(n-1), integrated over -8 to 8 in small steps.
#[test]
fn spread_of_the_worst_is_that_of_order_statistics() {
    for n in 2..=10_usize {
        let (step, mut below) = (1.0e-4_f64, 0.0_f64);
        let mut moments = [0.0_f64; 3];
        for k in 0..160_000 {
            let x = -8.0 + (f64::from(k) + 0.5) * step;
            let density = (-0.5 * x * x).exp() / std::f64::consts::TAU.sqrt();
            let up_to = below + 0.5 * step * density;
            below += step * density;
            let of_most = n as f64 * density * up_to.powi(n as i32 - 1);
            for (power, moment) in moments.iter_mut().enumerate() {
                *moment += step * of_most * x.powi(power as i32);
            }
        }
        assert!((moments[0] - 1.0).abs() < 1.0e-6, "{moments:?}");
        let exact = (moments[2] - moments[1].powi(2)).sqrt();
        assert!(
            (of_the_worst(n) / exact - 1.0).abs() < 0.02,
            "{n}: {} {exact}",
            of_the_worst(n)
        );
    }
    assert_eq!(deviation(&[1.0]), None);
    // By hand: 1, 2, 3 have a variance of 1.
    assert_eq!(deviation(&[1.0, 2.0, 3.0]), Some(1.0));
}

/// Two-sided critical values of Student's t at 0.95: NIST/SEMATECH e-Handbook of Statistical Methods, table 1.3.6.7.2
/// (column 0.975). At the share of the normal distribution within two standard deviations (0.9544997361036416):
/// scipy 1.17.1, `stats.t.ppf(0.5 + 0.5 * 0.9544997361036416, df)`.
#[test]
fn student_is_that_of_the_tables() {
    // 1.959963984540054: scipy, `stats.norm.ppf(0.975)`.
    for (freedom, table) in [
        (1, 12.706),
        (2, 4.303),
        (3, 3.182),
        (4, 2.776),
        (5, 2.571),
        (9, 2.262),
        (14, 2.145),
        (30, 2.042),
    ] {
        let found = student(freedom, 1.959_963_984_540_054);
        assert!((found - table).abs() < 5.1e-4, "{freedom}: {found}");
    }
    for (freedom, exact) in [
        (1, 13.967730199244548),
        (2, 4.526536687430166),
        (3, 3.306822175005651),
        (4, 2.869309414628827),
        (5, 2.648649430702703),
        (9, 2.319805898259143),
        (14, 2.195288190931808),
        (30, 2.0868443273103687),
    ] {
        let found = student(freedom, 2.0);
        assert!((found / exact - 1.0).abs() < 1.0e-9, "{freedom}: {found}");
    }
}

/// Paired samples: statistic and probability by scipy 1.17.1, `stats.ttest_rel(b, a)`, of invented figures (numpy 2.4.6,
/// `default_rng(7)`). A mean counts just where the probability is below that of a normal value beyond two deviations.
#[test]
fn pairs_are_judged_as_ttest_rel_judges_them() {
    const BEYOND: f64 = 1.0 - 0.954_499_736_103_641_6;
    let mut counted = 0;
    for (a, b, statistic, probability) in [
        (
            &[10.002, 10.597][..],
            &[10.165, 10.452][..],
            0.058441558441555255,
            0.9628372186859365,
        ),
        (
            &[9.091, 8.017, 10.12],
            &[9.761, 7.771, 9.81],
            0.12004816194314218,
            0.9154173257103388,
        ),
        (
            &[10.98, 10.714, 10.211],
            &[11.415, 11.599, 11.459],
            3.640378513002286,
            0.06786657892672436,
        ),
        (
            &[7.312, 9.085, 6.198],
            &[8.667, 10.164, 8.08],
            6.107674233152598,
            0.025775084739237328,
        ),
        (
            &[7.465, 10.543, 10.314, 9.626, 4.966],
            &[7.596, 10.919, 10.771, 9.261, 5.127],
            1.060306282940182,
            0.3487840034880727,
        ),
        (
            &[8.043, 8.382, 12.122, 8.385, 9.935],
            &[9.685, 9.29, 13.266, 9.64, 11.167],
            10.424353570333208,
            0.0004783766003673177,
        ),
        (
            &[
                7.55, 10.152, 12.718, 6.906, 11.719, 10.239, 8.717, 14.001, 11.525, 7.601,
            ],
            &[
                7.887, 10.74, 12.924, 7.547, 11.986, 10.873, 9.736, 13.963, 11.927, 7.669,
            ],
            4.14437967148999,
            0.002505249061338782,
        ),
    ] {
        let (a, b) = (
            figure("rides.x", Over::Mean, a),
            figure("rides.x", Over::Mean, b),
        );
        let noise = Noise::of(&a, &b);
        assert_eq!(noise.basis, Basis::SameSeeds);
        let mean = noise.by_seed.expect("a mean");
        let found = student(a.seeds.len() - 1, 2.0) * mean / noise.band;
        assert!((found / statistic - 1.0).abs() < 1.0e-9, "{found}");
        let counts = noise.counts(mean).is_some();
        assert_eq!(counts, probability < BEYOND, "{probability}");
        counted += usize::from(counts);
        // The mean of the differences is the difference of the means.
        let change = b.value.expect("a number") - a.value.expect("a number");
        assert!((change - mean).abs() < 1.0e-12);
        let c = compare(std::slice::from_ref(&a), std::slice::from_ref(&b));
        assert_eq!(c.worse.len(), usize::from(counts));
        if counts {
            assert_eq!(compare(&[b], &[a]).better.len(), 1);
        }
    }
    assert_eq!(counted, 3);
}

/// Floors that differ from seed to seed are no noise, and one seed that goes astray does not hide behind the spread that it
/// makes itself. What moves by less than a thousandth has not changed to any purpose.
#[test]
fn pairs_find_what_spreads_hide() {
    let seeds = [0.104, 0.078, 0.157];
    let a = figure("rides.x", Over::Mean, &seeds);
    let times = |by: f64| figure("rides.x", Over::Mean, &seeds.map(|s| by * s));
    // The spread alone would have allowed 58 %.
    assert!(band(&a, &a) > 0.57 * a.value.expect("a number"));
    assert_eq!(
        compare(std::slice::from_ref(&a), &[times(1.25)])
            .worse
            .len(),
        1
    );
    assert_eq!(
        compare(std::slice::from_ref(&a), &[times(0.8)])
            .better
            .len(),
        1
    );
    let c = compare(std::slice::from_ref(&a), &[times(1.0 + 0.9e-3)]);
    assert_eq!(c.within_noise.len(), 1);
    assert!((c.within_noise[0].detectable.expect("a share") - 1.0e-3).abs() < 1.0e-5);
    // Both ways round: nothing is to be said.
    let mixed = figure("rides.x", Over::Mean, &[0.110, 0.075, 0.154]);
    assert_eq!(
        compare(std::slice::from_ref(&a), &[mixed])
            .within_noise
            .len(),
        1
    );
    // The worst of three, one of them astray: t is 1, whatever the size.
    let before = figure("rides.y", Over::Worst, &[14.0, 14.5, 13.0]);
    let astray = figure("rides.y", Over::Worst, &[14.0, 14.5, 30.0]);
    let c = compare(std::slice::from_ref(&before), std::slice::from_ref(&astray));
    assert_eq!(c.worse.len(), 1);
    let change = &c.worse[0];
    assert!(change.by_seed.expect("a mean") < change.noise);
    assert!(change.change.expect("a number") > change.reseeded.expect("a band"));
    assert_eq!(compare(&[astray], &[before]).better.len(), 0);
}
