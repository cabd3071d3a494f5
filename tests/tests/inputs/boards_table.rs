//! The parameter table that the ports compile in is that of the default rig, bit for bit. Our own rule.

use host_sim::rig::Rig;
use host_sim::{design, parameter_table};

#[test]
fn the_committed_table_is_the_default_rigs() {
    let rig = Rig::default_machine().expect("the default rig");
    let parameters = design::parameters(&rig).expect("parameters");
    let path = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../firmware/boards/parameters.rs"
    );
    let committed = std::fs::read_to_string(path).expect("firmware/boards/parameters.rs");
    assert!(
        committed == parameter_table::expression(&parameters),
        "{path} is old: becalm rig table > firmware/boards/parameters.rs"
    );
}

/// Every number of the table reads back as the bits that it was written from.
#[test]
fn numbers_read_back_as_the_same_bits() {
    let rig = Rig::default_machine().expect("the default rig");
    let parameters = design::parameters(&rig).expect("parameters");
    let text = parameter_table::expression(&parameters);
    let written: Vec<f32> = text
        .split(|c: char| c.is_whitespace() || ",:[]".contains(c))
        .filter_map(|word| word.parse::<f32>().ok())
        .collect();
    let mut exact = Vec::new();
    numbers(
        &serde_json::to_value(parameters).expect("a tree"),
        &mut exact,
    );
    let bits = |list: &[f32]| {
        let mut bits: Vec<u32> = list.iter().map(|x| x.to_bits()).collect();
        bits.sort_unstable();
        bits
    };
    assert!(exact.len() > 150, "{}", exact.len());
    assert_eq!(bits(&written), bits(&exact));
}

fn numbers(value: &serde_json::Value, out: &mut Vec<f32>) {
    match value {
        serde_json::Value::Number(n) => out.push(n.as_f64().expect("a number") as f32),
        serde_json::Value::Array(items) => items.iter().for_each(|v| numbers(v, out)),
        serde_json::Value::Object(items) => items.values().for_each(|v| numbers(v, out)),
        _ => {}
    }
}
