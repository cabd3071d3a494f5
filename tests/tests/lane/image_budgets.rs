//! Budgets: read, checked, rewritten. The limits are the design's own.

use host_sim::cores::BoardKind;
use host_sim::image::budgets::Budget;
use host_sim::image::{BudgetError, Budgets, Measured};
use std::path::Path;

const TEXT: &str = "\
# Ours.
[m4f]
instructions_max = 1900 # most
instructions_ratio = 1.04
stack_bytes = 500
stack_bytes_static = 600
ram_bytes = 2600
flash_bytes = 22000   # all of it
recorder_instructions_max = 1700
recorder_bytes = 80000
[m7]
instructions_max = 1900
instructions_ratio = 1.04
stack_bytes = 500
stack_bytes_static = 600
ram_bytes = 2600
flash_bytes = 22000
recorder_instructions_max = 1700
recorder_bytes = 80000
[m3]
instructions_max = 11000
instructions_ratio = 1.2
stack_bytes = 500
stack_bytes_static = 600
ram_bytes = 2600
flash_bytes = 45000
recorder_instructions_max = 1700
recorder_bytes = 80000
";

fn read(text: &str) -> Result<Budgets, BudgetError> {
    Budgets::from_toml(text.to_owned(), Path::new("b.toml"))
}

fn within() -> Measured {
    Measured {
        core: BoardKind::M4f,
        instructions_max: 1900,
        instructions_min: 1850,
        stack_bytes: 500,
        stack_bytes_static: Some(600),
        ram_bytes: 2600,
        flash_bytes: 22_000,
        recorder_instructions_max: 1700,
        recorder_bytes: 80_000,
    }
}

#[test]
fn a_measurement_at_its_budget_passes_and_one_above_is_told() {
    let budgets = read(TEXT).expect("budgets");
    assert_eq!(budgets.check(&within()), []);
    // 1901 / 1800 = 1.0561.
    let above = Measured {
        instructions_max: 1901,
        instructions_min: 1800,
        stack_bytes: 501,
        stack_bytes_static: None,
        ram_bytes: 2601,
        flash_bytes: 22_001,
        recorder_instructions_max: 1701,
        recorder_bytes: 80_001,
        ..within()
    };
    let told: Vec<String> = budgets
        .check(&above)
        .iter()
        .map(ToString::to_string)
        .collect();
    assert_eq!(
        told,
        [
            "m4f.instructions_max: 1901 exceeds the budget of 1900",
            "m4f.instructions_ratio: 1.0561 exceeds the budget of 1.04",
            "m4f.stack_bytes: 501 exceeds the budget of 500",
            "m4f.stack_bytes_static: no bound, the budget is 600",
            "m4f.ram_bytes: 2601 exceeds the budget of 2600",
            "m4f.flash_bytes: 22001 exceeds the budget of 22000",
            "m4f.recorder_instructions_max: 1701 exceeds the budget of 1700",
            "m4f.recorder_bytes: 80001 exceeds the budget of 80000",
        ]
    );
    // The same on the Cortex-M3, by its own table.
    let other = Measured {
        core: BoardKind::M3,
        instructions_max: 11_001,
        instructions_min: 10_000,
        ..within()
    };
    let told = budgets.check(&other);
    assert_eq!(told.len(), 1, "{told:?}");
    assert_eq!(told[0].what, "m3.instructions_max");
    // Nothing counted is no pass.
    let nothing = Measured {
        instructions_min: 0,
        ..within()
    };
    assert_eq!(budgets.check(&nothing)[0].what, "m4f.instructions_ratio");
}

#[test]
fn errors_name_file_line_and_field() {
    for (from, to, expected) in [
        (
            "[m7]\ninstructions_max = 1900",
            "[m7]\ninstructions_max = 2001",
            "b.toml:12:1: m7.instructions_max = 2001: expected 0 to 2000",
        ),
        (
            "instructions_ratio = 1.04",
            "instructions_ratio = 1.06",
            "b.toml:4:1: m4f.instructions_ratio = 1.06: expected 1 to 1.05",
        ),
        (
            "instructions_ratio = 1.04",
            "instructions_ratio = nan",
            "b.toml:4:1: m4f.instructions_ratio = NaN: expected 1 to 1.05",
        ),
        (
            "instructions_ratio = 1.2",
            "instructions_ratio = inf",
            "b.toml:22:1: m3.instructions_ratio = inf: expected a finite number of 1 or more",
        ),
        (
            "instructions_max = 11000",
            "instructions_max = 12001",
            "m3.instructions_max = 12001: expected 0 to 12000",
        ),
        (
            "stack_bytes = 500",
            "stack_bytes = 1025",
            "m4f.stack_bytes = 1025: expected 0 to 1024",
        ),
        (
            "stack_bytes_static = 600",
            "stack_bytes_static = 1025",
            "expected 0 to 1024",
        ),
        (
            "ram_bytes = 2600",
            "ram_bytes = 4097",
            "m4f.ram_bytes = 4097: expected 0 to 4096",
        ),
        (
            "recorder_bytes = 80000",
            "recorder_bytes = 131073",
            "m4f.recorder_bytes = 131073: expected 0 to 131072",
        ),
        (
            "flash_bytes = 45000",
            "flash_bytes = 49153",
            "b.toml:26:1: m3.flash_bytes = 49153: expected 0 to 49152",
        ),
        (
            "stack_bytes = 500",
            "stack_bytes = \"500\"",
            "b.toml:5:15: m4f.stack_bytes: ",
        ),
        (
            "stack_bytes = 500",
            "stack_bytes = -1",
            "b.toml:5:15: m4f.stack_bytes: ",
        ),
        (
            "stack_bytes = 500",
            "stack = 500",
            "b.toml:5:1: m4f.stack: unknown field",
        ),
        ("stack_bytes = 500\n", "", "missing field `stack_bytes`"),
        ("[m3]", "[m33]", "unknown field `m33`"),
    ] {
        assert!(TEXT.contains(from), "{from}");
        let message = read(&TEXT.replacen(from, to, 1)).expect_err(to).to_string();
        assert!(message.contains(expected), "{to}: {message}");
    }
    let missing = Budgets::read(Path::new("nowhere/b.toml"))
        .expect_err("no file")
        .to_string();
    assert!(
        missing.starts_with("nowhere/b.toml: cannot be read"),
        "{missing}"
    );
}

#[test]
fn reset_rounds_up_and_keeps_the_rest() {
    let measured = Measured {
        core: BoardKind::M4f,
        instructions_max: 1700,
        instructions_min: 1690,
        stack_bytes: 400,
        stack_bytes_static: Some(1020),
        ram_bytes: 2568,
        flash_bytes: 21_284,
        recorder_instructions_max: 1695,
        recorder_bytes: 79_000,
    };
    let text = read(TEXT)
        .and_then(|b| b.reset(&[measured]))
        .expect("a text");
    // By hand: the instructions of the M4F are the limit of 2000, whatever is measured; 1700/1690 + 0.005 = 1.01092 to 1.011; 404 to 416; 1030.2 to 1040, but the
    // limit is 1024; 2593.68 to 2608; 21496.84 to 21504; 1711.95 to 1720; 79790 to 79792.
    let expected = TEXT
        .replacen("1900 # most", "2000 # most", 1)
        .replacen("1.04", "1.011", 1)
        .replacen("= 500", "= 416", 1)
        .replacen("= 600", "= 1024", 1)
        .replacen("= 2600", "= 2608", 1)
        .replacen("22000   # all", "21504   # all", 1)
        .replacen("= 1700", "= 1720", 1)
        .replacen("= 80000", "= 79792", 1);
    assert_eq!(text, expected);
    // What it wrote admits what was measured.
    assert_eq!(read(&text).expect("budgets").check(&measured), []);
    // The Cortex-M3's instructions are measured: 7200 and 1 % is 7272, to 7280.
    let slow = Measured {
        core: BoardKind::M3,
        instructions_max: 7200,
        instructions_min: 7000,
        ..measured
    };
    let text = read(TEXT).and_then(|b| b.reset(&[slow])).expect("a text");
    assert!(text.contains("[m3]\ninstructions_max = 7280\n"), "{text}");

    let beyond = Measured {
        instructions_max: 2001,
        instructions_min: 2000,
        ..measured
    };
    let error = read(TEXT)
        .and_then(|b| b.reset(&[beyond]))
        .expect_err("beyond")
        .to_string();
    assert_eq!(
        error,
        "m4f.instructions_max: 2001 measured: expected at most 2000, which no budget may exceed"
    );
    let unbounded = Measured {
        stack_bytes_static: None,
        ..measured
    };
    assert!(read(TEXT).and_then(|b| b.reset(&[unbounded])).is_err());
}

// Demonstrates: fpu-instructions, fpu-instruction-ratio, m3-instructions, stack, stack-static, ram, flash
// Demonstrates: recorder-instructions, recorder-ram
#[test]
fn the_committed_budgets_are_within_the_limits() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../firmware/boards/budgets.toml");
    let budgets = Budgets::read(&file).expect("budgets");
    for core in BoardKind::ALL {
        let (budget, limits): (&Budget, Budget) = (budgets.of(core), core.limits());
        for ((name, value), (_, limit)) in budget.fields().into_iter().zip(limits.fields()) {
            assert!(value > 0.0 && value <= limit, "{core}.{name}");
        }
    }
}
