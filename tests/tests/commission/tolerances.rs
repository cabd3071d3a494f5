//! Every item of the commissioning test is judged at its tolerance, and the default rig's tolerances are the register's. The
//! findings of one sound machine are taken, and the tolerances put just above and just below what it is off by.

use firmware::commission::{Finding, Item, Parameters};
use host_sim::commission::{Spec, run};
use host_sim::limits::constant;
use host_sim::rig::Rig;

fn rig() -> Rig {
    Rig::default_machine().expect("the default rig")
}

fn finding(rig: &Rig) -> Finding {
    let run = run(rig, &Spec::of(3), |_, _| {}).expect("a run");
    *run.commission.result().expect("a finding")
}

/// Off by how much, as a share of the told value where that is not zero.
fn off(finding: &Finding, item: Item) -> f32 {
    let verdict = finding.verdicts.iter().find(|v| v.item == item);
    let v = verdict.expect("an item");
    let scale = if v.told == 0.0 { 1.0 } else { v.told };
    (v.found - v.told).abs() / scale
}

/// Items with a tolerance in the table, the register's number, and where it stands.
type Tolerance = (&'static [Item], f64, fn(&mut Parameters) -> &mut f32);

const TOLERANCES: [Tolerance; 8] = [
    (
        &[Item::ForceConstant],
        constant::COMMISSION_FORCE_CONSTANT,
        |p| &mut p.force_tolerance,
    ),
    (&[Item::MovingMass], constant::COMMISSION_MASS, |p| {
        &mut p.mass_tolerance
    }),
    (&[Item::Viscous], constant::COMMISSION_VISCOUS, |p| {
        &mut p.viscous_tolerance
    }),
    (&[Item::Coulomb], constant::COMMISSION_COULOMB, |p| {
        &mut p.coulomb_tolerance
    }),
    (
        &[Item::TravelGain, Item::CurrentGain],
        constant::COMMISSION_GAIN,
        |p| &mut p.gain_tolerance,
    ),
    (
        &[Item::FloorBias, Item::SeatBias],
        constant::COMMISSION_ACCEL_BIAS,
        |p| &mut p.accel_bias_max_mps2,
    ),
    (
        &[Item::CurrentBias],
        constant::COMMISSION_CURRENT_BIAS,
        |p| &mut p.current_bias_max_a,
    ),
    (&[Item::Residual], constant::COMMISSION_RESIDUAL, |p| {
        &mut p.residual_max
    }),
];

// Demonstrates: commission-correlation, commission-accel-bias, commission-current-bias, commission-force-constant
// Demonstrates: commission-mass, commission-viscous, commission-coulomb, commission-gain, commission-residual
#[test]
fn every_item_is_judged_at_its_tolerance() {
    let sound = finding(&rig());
    assert!(sound.agrees());
    let (mut above, mut below) = (rig(), rig());
    for (items, tolerance, field) in TOLERANCES {
        for &item in items {
            let verdict = sound.verdicts.iter().find(|v| v.item == item);
            let v = verdict.expect("an item");
            let scale = if v.told == 0.0 { 1.0 } else { v.told };
            assert_eq!(v.tolerance, tolerance as f32 * scale, "{item:?}");
        }
        let offs: Vec<f32> = items.iter().map(|item| off(&sound, *item)).collect();
        let most = offs.iter().copied().fold(0.0, f32::max);
        let least = offs.iter().copied().fold(f32::MAX, f32::min);
        assert!(least > 1.0e-6, "{items:?}: a seed that shows it");
        *field(&mut above.firmware.commission) = 1.001 * most;
        *field(&mut below.firmware.commission) = 0.999 * least;
    }
    assert!(finding(&above).agrees(), "{:?}", finding(&above).verdicts);
    let refused: Vec<Item> = finding(&below).refused().map(|v| v.item).collect();
    let all: Vec<Item> = TOLERANCES
        .iter()
        .flat_map(|(items, ..)| *items)
        .copied()
        .collect();
    assert_eq!(refused.len(), all.len(), "{refused:?}");
    assert!(all.iter().all(|item| refused.contains(item)), "{refused:?}");

    let told = rig().firmware.commission.correlation_min;
    assert_eq!(told, constant::COMMISSION_CORRELATION as f32);
    let seen = sound.correlation.abs();
    assert!((0.11..0.89).contains(&seen), "{seen}");
    for (least, agrees) in [(0.999 * seen, true), (1.001 * seen, false)] {
        let mut rig = rig();
        rig.firmware.commission.correlation_min = least;
        let found = finding(&rig);
        let refused = found.refused().any(|v| v.item == Item::FloorPolarity);
        assert_eq!(refused, !agrees, "{least}");
        assert_eq!(found.signs.floor != 0.0, agrees, "{least}");
    }
}
