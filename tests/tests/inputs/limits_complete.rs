//! The register is complete: every number that the firmware is given for the default rig, and every one of the rig's sections
//! `checks` and `proof`, is a limit or stands in the list of what is none, with its reason; no number is both, and nothing is
//! listed that is no number.

use host_sim::limits::{self, Register};
use host_sim::rig::Rig;
use std::collections::BTreeMap;
use std::path::Path;

fn rig() -> Rig {
    Rig::default_machine().expect("the default rig")
}

fn numbers() -> BTreeMap<String, f64> {
    limits::numbers(&rig()).expect("numbers")
}

/// Whether a name of the list stands for a number: its own, or one above it.
fn stands_for(name: &str, number: &str) -> bool {
    number
        .strip_prefix(name)
        .is_some_and(|rest| rest.is_empty() || rest.starts_with('.'))
}

/// What of the numbers is neither or both, and what of the register stands for none of them.
fn astray(register: &Register, numbers: &BTreeMap<String, f64>) -> Vec<String> {
    let limits: Vec<&String> = register
        .limits
        .iter()
        .filter_map(|l| l.rig.as_ref())
        .collect();
    let none: Vec<&String> = register.no_limits.iter().flat_map(|n| &n.fields).collect();
    let mut found = Vec::new();
    for number in numbers.keys() {
        let is_limit = limits.contains(&number);
        let is_none = none.iter().any(|name| stands_for(name, number));
        if is_limit == is_none {
            let both = if is_limit { "both" } else { "neither" };
            found.push(format!("{number}: {both} a limit and none"));
        }
    }
    for name in limits.iter().chain(&none) {
        if !numbers.keys().any(|number| stands_for(name, number)) {
            found.push(format!("{name}: no number"));
        }
    }
    found
}

#[test]
fn every_number_is_a_limit_or_said_to_be_none() {
    let (register, numbers) = (limits::register(), numbers());
    assert!(numbers.len() > 200, "{}", numbers.len());
    let said = astray(&register, &numbers);
    assert!(said.is_empty(), "\n{}", said.join("\n"));
}

/// The check can fail: a limit that is taken away, a reason that is, a number that is new, a name that is none.
#[test]
fn gaps_are_found() {
    let (register, numbers) = (limits::register(), numbers());
    let mut less = register.clone();
    less.limits.retain(|l| l.id != "load-change");
    let gap = "firmware.agree.load_change_n: neither a limit and none";
    assert_eq!(astray(&less, &numbers), [gap]);
    let mut less = register.clone();
    less.no_limits
        .retain(|n| !n.fields.contains(&"firmware.arrest.approach_ps".to_owned()));
    let gap = "firmware.arrest.approach_ps: neither a limit and none";
    assert_eq!(astray(&less, &numbers), [gap]);
    let mut more = numbers.clone();
    more.insert("firmware.brake.new_n".to_owned(), 1.0);
    more.insert("proof.new_m".to_owned(), 1.0);
    assert_eq!(astray(&register, &more).len(), 2);
    let mut other = numbers.clone();
    other.remove("checks.false_alarms_per_hour");
    assert_eq!(
        astray(&register, &other),
        ["checks.false_alarms_per_hour: no number"]
    );
    let mut both = register.clone();
    both.no_limits[0].fields.push("firmware.vet".to_owned());
    assert!(astray(&both, &numbers).len() > 10);
}

/// The default rig takes each of its limits from the register, and holds no number of its own in such a field. What it leaves
/// out is worked out.
#[test]
fn the_default_rig_takes_its_limits_from_the_register() {
    let text = Rig::default_text();
    let mut worked_out = Vec::new();
    for limit in limits::register().limits {
        let Some(field) = &limit.rig else { continue };
        let (section, key) = field.rsplit_once('.').expect("section.field");
        let mut now = "";
        let mut lines = Vec::new();
        for line in text.lines() {
            if line.starts_with('[') {
                now = line;
            } else if now == format!("[{section}]") && line.starts_with(&format!("{key} = ")) {
                lines.push(line);
            }
        }
        match lines[..] {
            [] => worked_out.push(limit.id.clone()),
            [line] => {
                let named = format!("{key} = \"@{}\"", limit.id);
                assert!(line.starts_with(&named), "{section}: {line}");
            }
            _ => panic!("{section}: {lines:?}"),
        }
    }
    assert_eq!(
        worked_out,
        [
            "stuck-readings",
            "bias-most",
            "travel-noise",
            "travel-scale"
        ]
    );
    assert!(
        limits::register()
            .limits
            .iter()
            .filter(|l| worked_out.contains(&l.id))
            .all(|l| l.source.starts_with("own: worked out"))
    );
    // What a rig's own number makes of them is that rig's limit: half the noise, less of a bound.
    let quiet = text.replace(
        "false_alarms_per_hour = \"@false-alarm-rate\"",
        "false_alarms_per_hour = 1.0",
    );
    let quiet = Rig::from_toml(&quiet, Path::new("own.toml")).expect("a rig");
    let own = limits::of_rig(&limits::register(), &quiet).expect("fields");
    let value = |id: &str| own.find(id).map_or(f64::NAN, |l| l.value);
    assert!(value("travel-noise") < 0.9 * limits::constant::TRAVEL_NOISE);
    assert_eq!(value("false-alarm-rate"), 1.0);
    assert_eq!(value("coil-hot"), limits::constant::COIL_HOT);
    let hot = text.replace("\"@coil-hot\"", "1.48");
    let hot = Rig::from_toml(&hot, Path::new("own.toml")).expect("a rig");
    let own = limits::of_rig(&limits::register(), &hot).expect("fields");
    let hot_c = own.find("coil-hot").map_or(f64::NAN, |l| l.value);
    assert!((hot_c - 148.0).abs() < 1.0e-4, "{hot_c}");
}
