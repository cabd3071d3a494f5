//! The committed reference values of `reference/floors` (scipy 1.17.1; the script is beside them).

use serde_json::Value;

/// All reference values.
pub fn reference() -> Value {
    let text = include_str!("../reference/floors/reference.json");
    serde_json::from_str(text).expect("the reference is JSON")
}

/// A list of numbers.
pub fn numbers(value: &Value) -> Vec<f64> {
    value
        .as_array()
        .expect("a list")
        .iter()
        .map(number)
        .collect()
}

/// A number.
pub fn number(value: &Value) -> f64 {
    value.as_f64().expect("a number")
}

/// Asserts that two lists agree within `tolerance` of the greatest reference value.
pub fn assert_close(ours: &[f64], theirs: &[f64], tolerance: f64, what: &str) {
    assert_eq!(ours.len(), theirs.len(), "{what}: lengths");
    let scale = theirs.iter().fold(0.0, |m: f64, v| m.max(v.abs()));
    for (i, (a, b)) in ours.iter().zip(theirs).enumerate() {
        assert!(
            (a - b).abs() <= tolerance * scale,
            "{what}[{i}]: {a} against {b}"
        );
    }
}

/// Path of a committed recording.
pub fn recording(name: &str) -> String {
    format!("{}/reference/recordings/{name}", env!("CARGO_MANIFEST_DIR"))
}
