//! The page and the JUnit report of a tiny dossier: well-formed, whole, true to the record, without network.

use becalm_tests::dossier::made;
use host_sim::dossier::junit::junit;
use host_sim::dossier::{Dossier, Judged, Verdict, words};
use roxmltree::{Document, Node, ParsingOptions};
use std::collections::BTreeSet;

fn read(name: &str) -> String {
    std::fs::read_to_string(made().folder.path().join(name)).expect("a file")
}

fn parsed(text: &str) -> Document<'_> {
    let options = ParsingOptions {
        allow_dtd: true,
        nodes_limit: u32::MAX,
        ..ParsingOptions::default()
    };
    Document::parse_with_options(text, options).expect("well-formed")
}

fn text_of(node: Node<'_, '_>) -> String {
    node.descendants()
        .filter(|n| n.is_text())
        .map(|n| n.text().unwrap_or_default())
        .collect()
}

/// Every limit once with its verdict and measured value; every link leads somewhere; nothing comes from outside.
#[test]
fn the_page_is_whole() {
    let text = read("dossier.html");
    let page = parsed(&text);
    let ids: Vec<&str> = page
        .descendants()
        .filter_map(|n| n.attribute("id"))
        .collect();
    let distinct: BTreeSet<&str> = ids.iter().copied().collect();
    assert_eq!(ids.len(), distinct.len(), "an id stands twice");
    for link in page.descendants().filter_map(|n| n.attribute("href")) {
        match link.strip_prefix('#') {
            Some(id) => assert!(distinct.contains(id), "{link}"),
            None => assert!(made().folder.path().join(link).is_file(), "{link}"),
        }
    }
    for node in page.descendants() {
        assert!(node.attribute("src").is_none(), "{node:?}");
        // The ride is text until it is asked for: a page that ran within this one from the start kept browsers from printing.
        assert!(
            !matches!(
                node.tag_name().name(),
                "link" | "img" | "iframe" | "object" | "embed"
            ),
            "{node:?}"
        );
    }
    let style = page
        .descendants()
        .find(|n| n.has_tag_name("style"))
        .map(text_of)
        .expect("a style");
    assert!(!style.contains("url(") && !style.contains("@import"));
    for (words, why) in [
        ("prefers-color-scheme:dark", "dark"),
        ("@media print", "print"),
    ] {
        assert!(style.contains(words), "{why}");
    }
    let dossier = &made().dossier;
    for v in &dossier.verdicts {
        let id = format!("limit-{}", v.limit);
        let row = page
            .descendants()
            .find(|n| n.attribute("id") == Some(&id))
            .expect("a row");
        // Of what was not measured the verdict stands above the table.
        let above = row
            .ancestors()
            .find(|n| n.has_tag_name("section"))
            .and_then(|s| s.children().find(|n| n.has_tag_name("h3")))
            .map(text_of)
            .expect("a heading");
        let said = text_of(row) + &above.to_lowercase();
        assert!(
            said.contains(v.verdict.words())
                && said.contains(&v.protects)
                && said.contains(&v.command)
                && said.contains(&v.source),
            "{said}"
        );
        if let Some(measured) = v.measured {
            assert!(said.contains(&words(measured)), "{said}");
        }
    }
    for f in &dossier.figures {
        assert!(
            distinct.contains(format!("figure-{}", f.id).as_str()),
            "{}",
            f.id
        );
    }
    let short = text_of(
        page.descendants()
            .find(|n| n.attribute("id") == Some("verdict"))
            .expect("in short"),
    );
    assert!(
        short.contains(&format!(
            "{} of {} limits hold",
            dossier.count(Verdict::Holds),
            dossier.verdicts.len()
        )),
        "{short}"
    );
    let open = text_of(
        page.descendants()
            .find(|n| n.attribute("id") == Some("not-run"))
            .expect("what was not run"),
    );
    for n in &dossier.not_run {
        assert!(
            open.contains(&n.what) && open.contains(&n.why),
            "{}",
            n.what
        );
    }
    // The rides that lie in it are the pages of the rides, to the byte, and no other file is needed for them.
    let scripts: Vec<_> = page
        .descendants()
        .filter(|n| n.has_tag_name("script"))
        .collect();
    let (inert, live): (Vec<Node<'_, '_>>, Vec<_>) = scripts
        .into_iter()
        .partition(|n| n.attribute("type") == Some("application/json"));
    assert_eq!((inert.len(), live.len()), (2, 2));
    for (script, ride) in inert.iter().zip(&made().rides) {
        let text: String = serde_json::from_str(&text_of(*script)).expect("a text");
        assert_eq!(text, ride.page);
        let section = page
            .descendants()
            .find(|n| n.attribute("id") == Some(ride.id))
            .expect("a section");
        let said = text_of(section);
        assert!(said.contains(&ride.why) && said.contains(&ride.command));
    }
    assert!(!made().folder.path().join("ride.html").exists());
}

/// What is broken comes first and says what it protects, then what is not demonstrated, what holds by less than 5 %, what
/// holds, and what tests alone demonstrate.
#[test]
fn limits_stand_in_the_order_in_which_they_matter() {
    let text = read("dossier.html");
    let page = parsed(&text);
    let dossier = &made().dossier;
    let shown: Vec<&str> = page
        .descendants()
        .filter_map(|n| n.attribute("id")?.strip_prefix("limit-"))
        .collect();
    let rank = |v: &Judged| match (v.verdict, v.margin) {
        (Verdict::Broken, _) => 0,
        (Verdict::NotDemonstrated, _) => 1,
        (Verdict::Holds, Some(left)) if v.value != 0.0 && left < 0.05 * v.value.abs() => 2,
        (Verdict::Holds, _) => 3,
        (Verdict::ByTests, _) => 4,
    };
    let mut sorted: Vec<&Judged> = dossier.verdicts.iter().collect();
    sorted.sort_by_key(|v| rank(v));
    let expected: Vec<&str> = sorted.iter().map(|v| v.limit.as_str()).collect();
    assert_eq!(shown, expected);
    let ranks: BTreeSet<i32> = sorted.iter().map(|v| rank(v)).collect();
    assert!(
        ranks.len() >= 4,
        "too few kinds to tell an order: {ranks:?}"
    );
    // A dossier with a broken limit says in short what it protects.
    let mut other = dossier.clone();
    let broken = other
        .verdicts
        .iter_mut()
        .find(|v| v.verdict == Verdict::Holds)
        .expect("one that holds");
    broken.verdict = Verdict::Broken;
    let broken = broken.clone();
    let text = host_sim::dossier::page::page(&other, &[]).expect("a page");
    let page = parsed(&text);
    let short = text_of(
        page.descendants()
            .find(|n| n.attribute("id") == Some("verdict"))
            .expect("in short"),
    );
    assert!(
        short.contains(&broken.limit) && short.contains(&broken.protects),
        "{short}"
    );
    // Without rides there is no section for one, and no link to it.
    assert!(!text.contains("#ride") && !text.contains("<iframe"));
}

/// The rides that it plays have the largest peaks of their raw data: the figure that is told, and that of the page itself.
#[test]
fn the_rides_are_those_with_the_largest_peaks() {
    let rows = |file: &str, pointer: &str, place: &str| -> Vec<(f64, String)> {
        let data: serde_json::Value = serde_json::from_str(&read(file)).expect("JSON");
        let rows = data.pointer(pointer).and_then(|v| v.as_array()).cloned();
        let rows = rows.expect("rows").into_iter().map(|row| {
            let peak = row.pointer(place).and_then(|v| v.as_f64()).expect("a peak");
            (peak, row["command"].as_str().expect("a command").to_owned())
        });
        rows.collect()
    };
    let all = [
        rows("rides.json", "/rides", "/summary/seat/peak_mps2"),
        rows("faults.json", "/campaigns/0/cases", "/law/peak_mps2"),
    ];
    assert_eq!(made().rides.len(), 2);
    for (rows, ride) in all.iter().zip(&made().rides) {
        assert!(rows.len() >= 2, "nothing to choose from");
        let largest = rows.iter().map(|r| r.0).fold(0.0, f64::max);
        let own = rows.iter().find(|r| r.0 == largest).expect("one");
        assert_eq!(ride.command, own.1);
        let told = format!("{} m/s²", words(largest));
        assert!(ride.why.contains(&told), "{}: {told}", ride.why);
        let cell = "data-figure=\"/seat/peak_mps2\"";
        let shown = ride.page.split_once(cell).expect("the cell").1;
        let shown = shown.split_once('>').expect("a cell").1;
        let shown: f64 = shown
            .split('<')
            .next()
            .expect("text")
            .parse()
            .expect("a number");
        assert!((shown - largest).abs() <= 0.0051, "{shown} {largest}");
    }
}

#[test]
fn the_junit_report_counts_right() {
    let text = read("junit.xml");
    let report = parsed(&text);
    let dossier = &made().dossier;
    let root = report.root_element();
    let number = |node: Node<'_, '_>, name: &str| {
        node.attribute(name)
            .and_then(|v| v.parse::<usize>().ok())
            .expect("a number")
    };
    let under = |node: Node<'_, '_>, name: &str| {
        node.descendants().filter(|n| n.has_tag_name(name)).count()
    };
    assert_eq!(number(root, "tests"), dossier.verdicts.len());
    // The tiny dossier lists the stages that it did not run, but not what is missing from those that it did.
    let excused: BTreeSet<&String> = dossier.not_run.iter().flat_map(|n| &n.limits).collect();
    let open: Vec<_> = dossier
        .verdicts
        .iter()
        .filter(|v| v.verdict == Verdict::NotDemonstrated)
        .collect();
    let skipped = open.iter().filter(|v| excused.contains(&v.limit)).count();
    assert!(skipped > 0 && skipped < open.len());
    let failed = dossier.count(Verdict::Broken) + open.len() - skipped;
    assert_eq!(number(root, "failures"), failed);
    assert_eq!(
        number(root, "skipped"),
        skipped + dossier.count(Verdict::ByTests)
    );
    for suite in root.children().filter(Node::is_element) {
        assert_eq!(number(suite, "tests"), under(suite, "testcase"));
        assert_eq!(number(suite, "failures"), under(suite, "failure"));
        assert_eq!(number(suite, "skipped"), under(suite, "skipped"));
    }
    let names: BTreeSet<&str> = report
        .descendants()
        .filter(|n| n.has_tag_name("testcase"))
        .filter_map(|n| n.attribute("name"))
        .collect();
    assert_eq!(names.len(), dossier.verdicts.len());
}

/// What makes a full dossier's exit code 1 fails in its report.
#[test]
fn a_full_dossier_skips_nothing_that_is_to_be_measured() {
    let full = Dossier {
        plan: "full".to_owned(),
        ..made().dossier.clone()
    };
    let text = junit(&full);
    let report = parsed(&text);
    let case = |limit: &str| {
        report
            .descendants()
            .find(|n| n.has_tag_name("testcase") && n.attribute("name") == Some(limit))
            .expect("a case")
    };
    for v in &full.verdicts {
        let inside: Vec<&str> = case(&v.limit)
            .children()
            .map(|n| n.tag_name().name())
            .collect();
        let wanted = match v.verdict {
            Verdict::Broken | Verdict::NotDemonstrated => vec!["failure"],
            Verdict::ByTests => vec!["skipped"],
            Verdict::Holds => vec![],
        };
        assert_eq!(inside, wanted, "{}", v.limit);
    }
    let said = case("modes-claims")
        .first_child()
        .and_then(|n| n.attribute("message"))
        .expect("a message");
    assert!(said.starts_with("not demonstrated: "), "{said}");
}

/// Four digits that count.
#[test]
fn numbers_are_plain() {
    for (value, text) in [
        (0.0, "0"),
        (95.0, "95"),
        (0.0235, "0.0235"),
        (0.123456, "0.1235"),
        (12.3456, "12.35"),
        (1234.56, "1235"),
        (-0.5, "-0.5"),
        (0.00012346, "0.0001235"),
        (1.5e-5, "1.50e-5"),
        (f64::INFINITY, "no bound"),
        (99.99999, "100"),
        (0.04, "0.04"),
    ] {
        assert_eq!(words(value), text);
    }
}
