//! The ride report's figures and tables: complete, true to the summary, legible.

use becalm_tests::report::{by_id, parse, plain, ridden, spec, text};
use host_sim::ride::OccupantChange;
use host_sim::rig::Rig;
use roxmltree::{Document, Node};
use std::collections::{BTreeMap, BTreeSet};

/// Every figure of the page, with words that must stand in its drawing.
const FIGURES: [(&str, &[&str]); 10] = [
    (
        "acceleration",
        &["m/s²", "time, s", "floor", "seat under the law"],
    ),
    (
        "roughest",
        &["acceleration, m/s²", "travel, mm", "end stop"],
    ),
    (
        "density",
        &["density, (m/s²)²/Hz", "frequency, Hz", "passive seat"],
    ),
    ("transmissibility", &["frequency, Hz", "95 % confidence"]),
    ("travel", &["travel, mm", "end stop", "usable travel"]),
    ("phase-plane", &["closing speed, m/s", "arrest curve"]),
    ("force", &["force, N", "coil, °C"]),
    ("modes", &["active", "stop, law"]),
    (
        "estimate-event",
        &["travel rate", "floor velocity", "truth", "estimate"],
    ),
    ("estimate-errors", &["error, mm/s", "mass, kg"]),
];

#[test]
fn every_figure_is_drawn_with_title_units_and_text_alternative() {
    let page = parse(&plain().0);
    for (id, words) in FIGURES {
        let figure = by_id(&page, id);
        let find = |name: &str| {
            figure
                .descendants()
                .find(|n| n.has_tag_name(name))
                .unwrap_or_else(|| panic!("figure {id} has no {name}"))
        };
        assert_eq!(find("svg").attribute("role"), Some("img"));
        for name in ["h3", "figcaption", "title", "desc"] {
            assert!(text(find(name)).trim().len() > 10, "figure {id}: {name}");
        }
        let drawn: BTreeSet<String> = figure
            .descendants()
            .filter(|n| n.has_tag_name("text"))
            .map(|n| text(n).trim().to_owned())
            .collect();
        for word in words {
            assert!(
                drawn.contains(*word),
                "figure {id}: no {word:?} in {drawn:?}"
            );
        }
        let lines = figure.descendants().filter(|n| n.has_tag_name("polyline"));
        assert!(lines.count() > 4, "figure {id}");
    }
    assert_eq!(
        page.descendants()
            .filter(|n| n.has_tag_name("figure"))
            .count(),
        FIGURES.len()
    );
    assert!(!plain().0.contains("NaN") && !plain().0.contains(">inf"));
}

/// Cells of the row that begins with `name`.
fn row(page: &Document<'_>, name: &str) -> Vec<String> {
    page.descendants()
        .filter(|n| n.has_tag_name("tr"))
        .find(|n| n.first_element_child().is_some_and(|c| text(c) == name))
        .unwrap_or_else(|| panic!("no row {name:?}"))
        .children()
        .filter(|n| n.has_tag_name("td"))
        .map(text)
        .collect()
}

#[test]
fn figures_of_the_summary_stand_there_with_the_same_digits() {
    let (html, s) = plain();
    let page = parse(html);
    let three = |x: f64| format!("{x:.3}");
    let f = &s.floor;
    for (name, floor, passive, law) in [
        (
            "weighted r.m.s., m/s²",
            f.weighted_rms_mps2,
            s.passive.weighted_rms_mps2,
            s.seat.weighted_rms_mps2,
        ),
        (
            "VDV, m/s1.75",
            f.vdv_mps175,
            s.passive.vdv_mps175,
            s.seat.vdv_mps175,
        ),
        (
            "peak, m/s²",
            f.peak_mps2,
            s.passive.peak_mps2,
            s.seat.peak_mps2,
        ),
    ] {
        assert_eq!(row(&page, name), [floor, passive, law].map(three), "{name}");
    }
    assert_eq!(
        row(&page, "MTVV, m/s²")[1..],
        [s.passive.mtvv_mps2, s.seat.mtvv_mps2].map(three)
    );
    assert_eq!(
        row(&page, "SEAT value"),
        [
            "–".to_owned(),
            three(s.seat_value_passive.unwrap()),
            three(s.seat_value.unwrap())
        ]
    );
    assert_eq!(
        row(&page, "SEAT value by VDV")[2],
        three(s.seat_value_vdv.unwrap())
    );
    assert_eq!(
        row(&page, "largest travel, mm"),
        [s.passive_travel.peak_m, s.travel.peak_m].map(|x| format!("{:.2}", 1000.0 * x))
    );
    assert_eq!(
        row(&page, "stop contacts"),
        [s.passive_travel.stop_contacts, s.travel.stop_contacts].map(|n| n.to_string())
    );
    assert_eq!(
        row(&page, "force peak, N"),
        [format!("{:.1}", s.actuator.force_peak_n)]
    );
    assert_eq!(
        row(&page, "travel rate error r.m.s., mm/s"),
        [format!(
            "{:.2}",
            1000.0 * s.estimate.travel_rate_rms_error_mps
        )]
    );
    // And every digit of every figure once more.
    let raw = by_id(&page, "raw");
    let json = text(raw.descendants().find(|n| n.has_tag_name("pre")).unwrap());
    assert_eq!(json, serde_json::to_string_pretty(s).unwrap());
}

/// The floor's own MTVV and peak come from the collector's meter: the same signal, the same rule.
#[test]
fn floor_figures_of_the_collector_agree_with_the_ride() {
    let (html, s) = plain();
    let page = parse(html);
    let mtvv: f64 = row(&page, "MTVV, m/s²")[0].parse().unwrap();
    let crest: f64 = row(&page, "crest factor")[0].parse().unwrap();
    let rms = s.floor.weighted_rms_mps2;
    // MTVV is at least the r.m.s. over the whole (ISO 2631-1: a maximum of running means), and a
    // weighted peak at least MTVV.
    assert!(mtvv >= rms && crest * rms >= mtvv, "{mtvv} {crest} {rms}");
}

#[test]
fn directive_times_follow_from_the_figures() {
    let (html, s) = plain();
    let page = parse(html);
    // Directive 2002/44/EC, Article 3: 0.5 m/s2 over 8 h; T = 8 h (0.5 / a)^2.
    let minutes = 480.0 * (0.5 / s.seat.weighted_rms_mps2).powi(2);
    let (h, m) = ((minutes / 60.0).floor(), minutes.floor() % 60.0);
    let expected = if h > 0.0 {
        format!("{h:.0} h {m:02.0} min")
    } else {
        format!("{m:.0} min")
    };
    assert_eq!(row(&page, "daily time to action value, A(8)")[2], expected);
}

/// Places of the longest line of a colour.
fn longest_line(figure: Node<'_, '_>, colour: &str) -> Vec<(f64, f64)> {
    figure
        .descendants()
        .filter(|n| n.has_tag_name("polyline") && n.attribute("stroke") == Some(colour))
        .map(|n| {
            n.attribute("points")
                .unwrap()
                .split_whitespace()
                .map(|p| {
                    let (x, y) = p.split_once(',').unwrap();
                    (x.parse().unwrap(), y.parse().unwrap())
                })
                .collect::<Vec<_>>()
        })
        .max_by_key(Vec::len)
        .expect("a line")
}

#[test]
fn a_peak_of_one_sample_is_drawn_in_full() {
    let rig = Rig::default_machine().unwrap();
    // Level 2 of this floor stays below 25 m/s2: one sample of 100 m/s2 in 60 s.
    let (html, _) = ridden(&spec("hauler", 60.0), &rig, |k, s| {
        if k == 41_234 {
            s.floor.accel_mps2 = 100.0;
        }
    });
    let page = parse(&html);
    let line = longest_line(by_id(&page, "acceleration"), "#767E88");
    let mut heights: Vec<f64> = line.iter().map(|p| p.1).collect();
    heights.sort_by(f64::total_cmp);
    let (top, second, middle) = (heights[0], heights[1], heights[heights.len() / 2]);
    assert!(
        middle - top > 3.0 * (middle - second),
        "{top} {second} {middle}"
    );
    // Its place in time: the axis runs from the first to the last abscissa.
    let (first, last) = (line[0].0, line[line.len() - 1].0);
    let peak = line.iter().find(|p| p.1 == top).unwrap().0;
    let share = (peak - first) / (last - first);
    assert!((share - 41.234 / 60.0).abs() < 0.003, "{share}");
}

#[test]
fn changes_of_occupant_and_modes_are_told() {
    let rig = Rig::default_machine().unwrap();
    let mut spec = spec("loader", 24.0);
    spec.changes = vec![
        OccupantChange {
            at_s: 6.0,
            occupant_kg: 0.0,
        },
        OccupantChange {
            at_s: 21.0,
            occupant_kg: 110.0,
        },
    ];
    let (html, _) = ridden(&spec, &rig, |_, _| {});
    let page = parse(&html);
    let drawn = text(by_id(&page, "modes"));
    for word in ["settle", "active", "→ 0 kg", "→ 110 kg"] {
        assert!(drawn.contains(word), "{word} in {drawn}");
    }
    assert!(html.contains("0 kg at 6 s, 110 kg at 21 s"));
}

type Rgb = (u8, u8, u8);

fn rgb(hex: &str) -> Rgb {
    let part = |i: usize| u8::from_str_radix(&hex[i..i + 2], 16).unwrap();
    (part(1), part(3), part(5))
}

/// Contrast ratio of WCAG 2.1 ("relative luminance", "contrast ratio").
fn contrast(a: Rgb, b: Rgb) -> f64 {
    let luminance = |(r, g, b): Rgb| {
        let linear = |c: u8| {
            let c = f64::from(c) / 255.0;
            if c <= 0.03928 {
                c / 12.92
            } else {
                ((c + 0.055) / 1.055).powf(2.4)
            }
        };
        0.2126 * linear(r) + 0.7152 * linear(g) + 0.0722 * linear(b)
    };
    let (a, b) = (luminance(a), luminance(b));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

/// WCAG 2.1, success criteria 1.4.11 (3:1 for graphics) and 1.4.3 (4.5:1 for text), in the light and
/// in the dark.
#[test]
fn lines_and_words_stand_out_in_light_and_dark() {
    let html = &plain().0;
    let dark: BTreeMap<&str, &str> = html
        .lines()
        .filter_map(|l| {
            let rest = l.trim().strip_prefix("svg [stroke=\"")?;
            let (light, rest) = rest.split_once("\"]{stroke:")?;
            Some((light, rest.split_once('}')?.0))
        })
        .collect();
    let (paper, night) = (rgb("#ffffff"), rgb("#14191f"));
    assert!(html.contains("--paper:#fff;") && html.contains("--paper:#14191f"));
    let page = parse(html);
    let mut seen = BTreeSet::new();
    for node in page
        .descendants()
        .filter(|n| n.ancestors().any(|a| a.has_tag_name("svg")))
    {
        for colour in ["stroke", "fill"]
            .into_iter()
            .filter_map(|a| node.attribute(a))
        {
            if colour == "none" || !colour.starts_with('#') {
                continue;
            }
            let other = dark
                .get(colour)
                .unwrap_or_else(|| panic!("{colour}: none for the dark"));
            let least = match node.tag_name().name() {
                "polyline" => 3.0,
                "text" => 4.5,
                _ => continue,
            };
            if seen.insert((colour, node.tag_name().name())) {
                let (day, dusk) = (contrast(rgb(colour), paper), contrast(rgb(other), night));
                assert!(day >= least, "{colour} on paper: {day:.2}");
                assert!(dusk >= least, "{other} in the dark: {dusk:.2}");
            }
        }
    }
    assert!(seen.len() > 6, "{seen:?}");
    // Law and passive seat differ without colour: the passive seat is dashed.
    assert!(html.contains("svg polyline[stroke=\"#B8540C\"]{stroke-dasharray:"));
}
