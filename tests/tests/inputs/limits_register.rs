//! The register of limits: this tree's own is sound; copies that are broken in one way each are refused, with file, limit,
//! field and what was expected; rigs name its limits or hold numbers of their own.

use host_sim::dossier::{Verdict, record};
use host_sim::limits::evidence::{check, defines, tags};
use host_sim::limits::{self, FILE, Refusal, Register, constant, page};
use host_sim::rig::Rig;
use std::path::{Path, PathBuf};

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

/// A register of one limit, the source that keeps it and the test that shows it.
const ONE: &str = r#"version = 1

[[limit]]
id = "peak-current"
protects = "winding: current asked for"
value = 95.0
unit = "A"
sense = "at most"
source = "own: what the drive gives; here"
enforced = ["firmware/src/limit.rs: Config::permitted_current"]
demonstrated = ["room::limits::current_is_limited"]
figure = ["certificate.current"]
command = "becalm certify"
"#;
const SOURCE: &str = "pub struct Config { pub most: f32 }\nimpl<S> Config<S> {\n    pub fn permitted_current(&self) {}\n}\n";
const TEST: &str = "// Demonstrates: peak-current\n#[test]\nfn current_is_limited() {}\n";

/// What stands against a tree of one register, one source and one test.
fn against(register: &str, source: &str, test: &str) -> Vec<Refusal> {
    let folder = tempfile::tempdir().expect("a folder");
    let write = |name: &str, text: &str| {
        let path = folder.path().join(name);
        std::fs::create_dir_all(path.parent().expect("a parent")).expect("a folder");
        std::fs::write(path, text).expect("a file");
    };
    write("firmware/src/limit.rs", source);
    write("tests/tests/room/limits.rs", test);
    write("host-sim/tests/cli/none.rs", "");
    match Register::read(register, "limits.toml") {
        Err(refusals) => refusals,
        Ok(register) => check(&register, folder.path()).expect("folders of tests"),
    }
}

/// One refusal with these words: file and line, limit, field, what was expected.
fn refused(what: &str, refusals: &[Refusal], words: &[&str]) {
    assert_eq!(refusals.len(), 1, "{what}: {refusals:?}");
    let said = refusals[0].to_string();
    for word in words {
        assert!(
            said.contains(word),
            "{what}: `{said}` does not say `{word}`"
        );
    }
    assert!(said.contains(": expected "), "{what}: {said}");
}

#[test]
fn this_tree_is_sound() {
    let register = limits::register();
    assert!(register.limits.len() > 150, "{}", register.limits.len());
    let refusals = check(&register, &root()).expect("folders of tests");
    let said: Vec<String> = refusals.iter().map(ToString::to_string).collect();
    assert!(said.is_empty(), "{}", said.join("\n"));
    // The constants are those of the text.
    let peak = register.find("peak-current").expect("a limit");
    assert_eq!(peak.value, constant::PEAK_CURRENT);
}

#[test]
fn a_sound_copy_is_not_refused() {
    assert_eq!(against(ONE, SOURCE, TEST), []);
}

/// Line for line: what is changed in the register, and what must be said. Lines count from 1.
#[test]
fn broken_copies_are_refused() {
    let twice = format!(
        "{ONE}{}",
        ONE.strip_prefix("version = 1\n").expect("the version")
    );
    let cases = [
        (
            "nothing enforces",
            ONE.replace(
                "[\"firmware/src/limit.rs: Config::permitted_current\"]",
                "[]",
            ),
            ["limits.toml:10", "limit peak-current", "enforced"],
        ),
        (
            "enforced is missing",
            ONE.replace(
                "enforced = [\"firmware/src/limit.rs: Config::permitted_current\"]\n",
                "",
            ),
            ["limits.toml:3", "limit peak-current", "enforced"],
        ),
        (
            "no such file",
            ONE.replace("src/limit.rs", "src/gone.rs"),
            [
                "limits.toml:3",
                "limit peak-current: enforced",
                "`firmware/src/gone.rs` cannot be read",
            ],
        ),
        (
            "no such item",
            ONE.replace("permitted_current", "wished_current"),
            [
                "limit peak-current: enforced",
                "`Config::wished_current` is not defined",
                "function, constant, type or field",
            ],
        ),
        (
            "no item",
            ONE.replace(": Config::permitted_current", ""),
            [
                "limits.toml:10",
                "limit peak-current: enforced",
                "`file: item`",
            ],
        ),
        (
            "nothing demonstrates",
            ONE.replace("[\"room::limits::current_is_limited\"]", "[]"),
            ["limits.toml:11", "limit peak-current", "demonstrated"],
        ),
        (
            "source is missing",
            ONE.replace("source = \"own: what the drive gives; here\"\n", ""),
            [
                "limits.toml:3",
                "limit peak-current: source: missing",
                "common practice, no source",
            ],
        ),
        (
            "source says nothing",
            ONE.replace("own: what the drive gives; here", "a good book"),
            [
                "limits.toml:9",
                "limit peak-current: source",
                "published source with its clause",
            ],
        ),
        (
            "own without a reason",
            ONE.replace("own: what the drive gives; here", "own: yes"),
            ["limits.toml:9", "limit peak-current: source", "reason"],
        ),
        (
            "twice",
            twice,
            [
                "limits.toml:16",
                "limit peak-current: id",
                "line 3 has it too",
            ],
        ),
        (
            "unit unknown",
            ONE.replace("\"A\"", "\"furlong\""),
            [
                "limits.toml:7",
                "limit peak-current: unit: `furlong`",
                "m/s2",
            ],
        ),
        (
            "value not finite",
            ONE.replace("95.0", "inf"),
            [
                "limits.toml:6",
                "limit peak-current: value: inf",
                "a finite number",
            ],
        ),
        (
            "value is no number",
            ONE.replace("95.0", "\"95\""),
            [
                "limits.toml:6",
                "limit peak-current: value",
                "a finite number",
            ],
        ),
        (
            "half a byte",
            ONE.replace("95.0", "95.5").replace("\"A\"", "\"bytes\""),
            [
                "limits.toml:6",
                "limit peak-current: value: 95.5",
                "a whole number of bytes",
            ],
        ),
        (
            "sense unknown",
            ONE.replace("at most", "about"),
            [
                "limits.toml:8",
                "limit peak-current: sense: `about`",
                "`at most` or `at least`",
            ],
        ),
        (
            "unknown field",
            ONE.replace("command =", "comand ="),
            ["limits.toml", "limit peak-current", "expected"],
        ),
        (
            "no figure",
            ONE.replace("[\"certificate.current\"]", "\"certificate.current\""),
            ["limits.toml:12", "limit peak-current: figure", "stage.name"],
        ),
        (
            "odd id",
            ONE.replace("\"peak-current\"", "\"Peak Current\""),
            ["limits.toml:4", "limit Peak Current: id", "small letters"],
        ),
        (
            "no reason for what is no limit",
            format!("{ONE}\n[[no_limit]]\nfields = [\"firmware.limit.gain\"]\nbecause = \"so\"\n"),
            ["limits.toml:17", "because: `so`", "a reason"],
        ),
        (
            "no fields of what is no limit",
            format!("{ONE}\n[[no_limit]]\nbecause = \"a gain, and no more\"\n"),
            ["limits.toml:15", "fields", "section.field"],
        ),
        (
            "a limit and none",
            format!(
                "{}\n[[no_limit]]\nfields = [\"firmware.limit.most\"]\nbecause = \"a gain, and no more\"\n",
                ONE.replace("source =", "rig = \"firmware.limit.most\"\nsource =")
            ),
            [
                "limits.toml:17",
                "`firmware.limit.most` stands twice",
                "no other table",
            ],
        ),
        (
            "another version",
            ONE.replace("version = 1", "version = 2"),
            ["limits.toml", "version", "expected 1"],
        ),
        (
            "no TOML",
            ONE.replace("[[limit]]", "[[limit"),
            ["limits.toml:3", "TOML", "a register of limits"],
        ),
    ];
    for (what, register, words) in cases {
        assert_ne!(register, ONE, "{what}");
        let refusals = against(&register, SOURCE, TEST);
        // A misspelt field is both unknown and missing.
        let told = if what == "unknown field" {
            &refusals[..1]
        } else {
            &refusals[..]
        };
        refused(what, told, &words);
    }
}

/// What no figure is measured of says what its tests assert, and claims no figure.
#[test]
fn limits_shown_by_tests_say_what_is_asserted() {
    let figure = "figure = [\"certificate.current\"]";
    let asserts = "asserts = \"no random state asks for more\"";
    let shown = ONE.replace(figure, asserts);
    assert_eq!(against(&shown, SOURCE, TEST), []);
    let register = Register::read(&shown, "limits.toml").expect("a register");
    assert!(register.limits[0].figure.is_empty());
    assert!(page::markdown(&register).contains(": no random state asks for more |"));
    for (what, register, words) in [
        (
            "both",
            ONE.replace(figure, &format!("{figure}\n{asserts}")),
            [
                "limits.toml:13: limit peak-current: asserts",
                "`figure` is there too",
            ],
        ),
        (
            "neither",
            ONE.replace(figure, ""),
            ["limits.toml:3: limit peak-current: figure", "or `asserts`"],
        ),
        (
            "no words",
            ONE.replace(figure, "asserts = \"\""),
            [
                "limits.toml:12: limit peak-current: asserts",
                "what the tests assert",
            ],
        ),
    ] {
        refused(what, &against(&register, SOURCE, TEST), &words);
    }
}

/// A limit that is known to be missed has no test that demonstrates it, but one that judges it, and says why.
#[test]
fn what_is_missed_is_not_demonstrated() {
    let missed = ONE.replace(
        "demonstrated =",
        "missed = \"the drive gives more; here\"\njudged =",
    );
    let judges = TEST.replace("Demonstrates", "Judges");
    let refusals = against(&missed, SOURCE, &judges);
    assert_eq!(refusals, []);
    for (what, register, test, words) in [
        (
            "demonstrated as well",
            missed.replace(
                "judged =",
                "judged = [\"room::limits::current_is_limited\"]\ndemonstrated =",
            ),
            judges.clone(),
            [
                "limits.toml:11",
                "limit peak-current: missed",
                "no test that shows",
            ],
        ),
        (
            "nothing judges it",
            missed.replace("[\"room::limits::current_is_limited\"]", "[]"),
            judges.clone(),
            [
                "limits.toml:12",
                "limit peak-current: judged",
                "judged rightly",
            ],
        ),
        (
            "no reason",
            missed.replace("the drive gives more; here", ""),
            judges.clone(),
            [
                "limits.toml:11",
                "limit peak-current: missed",
                "why it is not kept",
            ],
        ),
        (
            "judged, but not missed",
            ONE.replace(
                "demonstrated =",
                "demonstrated = [\"room::limits::current_is_limited\"]\njudged =",
            ),
            TEST.to_owned(),
            [
                "limits.toml:12",
                "limit peak-current: judged",
                "unless the limit is missed",
            ],
        ),
    ] {
        refused(what, &against(&register, SOURCE, &test), &words);
    }
    // A test that is tagged as showing what is missed.
    let refusals = against(&missed, SOURCE, TEST);
    assert_eq!(refusals.len(), 2, "{refusals:?}");
    refused(
        "wrong tag",
        &refusals[1..],
        &[
            "limits.rs:1",
            "`peak-current` does not name",
            "`demonstrated`",
        ],
    );
}

/// What the committed baseline measured as broken is listed as missed: no test can have shown it.
#[test]
fn what_is_broken_in_the_baseline_is_listed_as_missed() {
    let file = root().join("baseline/dossier.json");
    let baseline = host_sim::dossier::verify::read(&file).expect("the baseline");
    let register = limits::register();
    let mut broken = 0;
    for limit in &register.limits {
        let judged = record::judge(limit, &baseline.figures, &baseline.not_run);
        if judged.verdict == Verdict::Broken {
            broken += 1;
            assert!(
                limit.missed.is_some(),
                "{} is broken, but not listed as missed",
                limit.id
            );
        }
    }
    assert!(broken > 0, "the check looks at nothing: take it out");
}

#[test]
fn tags_must_fit_the_register() {
    for (what, test, words) in [
        (
            "no tag",
            TEST.replace("// Demonstrates: peak-current\n", ""),
            [
                "limits.toml:3: limit peak-current: demonstrated",
                "`room::limits::current_is_limited` is not there or not tagged",
                "// Demonstrates: peak-current",
            ],
        ),
        (
            "the test is gone",
            TEST.replace("current_is_limited", "another"),
            [
                "limits.toml:3",
                "limit peak-current: demonstrated",
                "`room::limits::current_is_limited`",
            ],
        ),
        (
            "unknown id in a tag",
            TEST.replace("peak-current", "peak-current, peak-currant"),
            [
                "tests/tests/room/limits.rs:1",
                "`peak-currant` is no limit",
                "an id of limits.toml",
            ],
        ),
        (
            "a tag that the register does not name",
            format!("{TEST}// Demonstrates: peak-current\n#[test]\nfn other() {{}}\n"),
            [
                "tests/tests/room/limits.rs:4",
                "does not name `room::limits::other`",
                "the same test in `demonstrated`",
            ],
        ),
        (
            "judges what is kept",
            format!("{TEST}// Judges: peak-current\n#[test]\nfn other() {{}}\n"),
            [
                "tests/tests/room/limits.rs:4",
                "does not name `room::limits::other`",
                "the same test in `judged`",
            ],
        ),
    ] {
        let mut refusals = against(ONE, SOURCE, &test);
        if what == "the test is gone" {
            // The tag now stands above a test that the register does not name: told as well.
            assert_eq!(refusals.len(), 2, "{refusals:?}");
            refusals.truncate(1);
        }
        refused(what, &refusals, &words);
    }
    // A tag above something that is no test shows nothing.
    let refusals = against(ONE, SOURCE, &TEST.replace("#[test]\n", ""));
    assert_eq!(refusals.len(), 2, "{refusals:?}");
    assert!(
        refusals[0]
            .to_string()
            .contains("a function with #[test] right below")
    );
}

#[test]
fn items_are_definitions_and_not_mentions() {
    let text = "// fn gone()\nlet x = call(name);\npub(crate) const MOST: f32 = 1.0;\npub struct Law {\n    pub slew: f32,\n}\nimpl<S: Scalar> Law<S> {\n    pub const fn step(&self) {}\n}\n";
    for item in ["MOST", "Law", "Law::slew", "Law::step", "step"] {
        assert!(defines(text, item), "{item}");
    }
    for item in ["gone", "name", "call", "Law::gone", "Other::step", "", "x"] {
        assert!(!defines(text, item), "{item}");
    }
    let found = tags(
        "tests/tests/a/b.rs",
        "// Demonstrates: one, two\n/// Words.\n#[test]\nfn shows() {}\n",
    );
    let said: Vec<_> = found
        .iter()
        .map(|t| (t.line, t.test.as_deref(), t.id.as_str()))
        .collect();
    assert_eq!(
        said,
        [
            (1, Some("a::b::shows"), "one"),
            (1, Some("a::b::shows"), "two")
        ]
    );
}

/// A rig with a number of its own has that limit; which ones the default rig names is looked at in `limits_complete`.
#[test]
fn rigs_name_limits_or_hold_their_own() {
    let text = Rig::default_text();
    let register = limits::register();
    let rig = Rig::default_machine().expect("the default rig");
    assert_eq!(limits::of_rig(&register, &rig).expect("fields"), register);
    assert!((f64::from(rig.firmware.limit.current_max_a) - constant::PEAK_CURRENT).abs() < 1.0e-4);

    let own = text.replace("\"@peak-current\"", "60.0");
    let own = Rig::from_toml(&own, Path::new("own.toml")).expect("a rig");
    let own = limits::of_rig(&register, &own).expect("fields");
    assert_eq!(own.find("peak-current").map(|l| l.value), Some(60.0));
    assert_eq!(
        own.find("clamp-accel").map(|l| l.value),
        Some(constant::CLAMP_ACCEL)
    );

    let line = 1 + text[..text.find("@peak-current").expect("a name")]
        .matches('\n')
        .count();
    for (name, words) in [
        (
            "@peak-currant",
            "`@peak-currant` is no limit: expected a number, or `@` and an id",
        ),
        (
            "@clamp-accel",
            "limit `clamp-accel` is in m/s2: expected one in A",
        ),
    ] {
        let error = Rig::from_toml(&text.replace("@peak-current", name), Path::new("own.toml"));
        let said = error.expect_err("refused").to_string();
        assert!(said.starts_with(&format!("own.toml:{line}:")), "{said}");
        assert!(
            said.contains("firmware.limit.current_max_a") && said.contains(words),
            "{said}"
        );
    }
}

/// The page of the documentation is made from the register: `becalm limits --markdown > docs/limits.md`.
#[test]
fn the_documentation_is_the_register() {
    let committed = std::fs::read_to_string(root().join("docs/limits.md")).expect("docs/limits.md");
    assert!(
        committed == page::markdown(&limits::register()),
        "docs/limits.md is not what `becalm limits --markdown` prints"
    );
    assert!(root().join(FILE).is_file());
}

/// As the tables, errors and comparisons write it.
#[test]
fn what_has_no_unit_stands_alone() {
    assert_eq!(host_sim::units::beside(15.0, "m/s2"), "15 m/s2");
    assert_eq!(host_sim::units::beside("0.25", "m/s"), "0.25 m/s");
    for unit in ["", "1", "share", "count"] {
        assert_eq!(host_sim::units::beside(1.2, unit), "1.2");
    }
    let register = limits::register();
    let seat = register.find("seat-value-hauler-1").expect("a limit");
    assert_eq!(seat.unit, "1");
    assert_eq!(seat.wanted(), "at most 0.22");
}
