//! The page that plays a ride, without a browser: whole, bounded, safe with any name, true to the summary and to what
//! was ridden. Ranges and moments are found here again by looking at every sample.

use becalm_tests::player::{Ridden, data, fault, ridden, spec};
use host_sim::player::Recorder;
use host_sim::proof::standing::standing;
use host_sim::ride::{self, Arithmetic};
use host_sim::rig::Rig;
use serde_json::Value;
use std::sync::OnceLock;

fn rig() -> Rig {
    Rig::default_machine().expect("the default rig")
}

/// A rough ride with a fault.
fn rough() -> &'static Ridden {
    static RIDE: OnceLock<Ridden> = OnceLock::new();
    RIDE.get_or_init(|| {
        let mut spec = spec("hauler", 4.0, 14.0);
        spec.faults.push(fault("motor-reversed", 10.0));
        ridden(&rig(), &spec)
    })
}

fn json(html: &str) -> Value {
    serde_json::from_str(data(html, "ride-data")).expect("JSON")
}

#[test]
fn nothing_is_fetched() {
    let page = rough().html.to_lowercase();
    for bad in [
        "http:",
        "https:",
        "src=",
        "@import",
        "url(",
        "<link",
        "<iframe",
        "javascript:",
        "import(",
        "fetch(",
    ] {
        let at = page.find(bad).map(|i| &page[i.saturating_sub(40)..i + 20]);
        assert!(at.is_none(), "{bad} in {at:?}");
    }
}

#[test]
fn names_with_markup_stay_names() {
    let mut rig = rig();
    rig.name = "rig </script><script>alert(1)</script> <b>".to_owned();
    let mut spec = spec("loader", 1.0, 4.0);
    spec.faults.push(fault("travel-dead", 3.0));
    let mut recorder = Recorder::new(&rig, &spec).unwrap();
    let mut summary = ride::run(&rig, &spec, |s| {
        recorder.push(s);
        true
    })
    .unwrap();
    summary.floor.name = "<b>a</b>&\"c'.csv".to_owned();
    summary.faults[0].fault = "</script><b>".to_owned();
    let html = recorder.page(&summary).unwrap();
    assert!(!html.contains("<b>") && !html.contains("alert(1)</script"));
    assert_eq!(html.matches("</script>").count(), 3);
    assert!(html.contains("&lt;b&gt;a&lt;/b&gt;&amp;&quot;c&#39;.csv"));
    let event = &json(&html)["events"];
    assert!(
        event
            .as_array()
            .unwrap()
            .iter()
            .any(|e| e["words"] == "</script><b>")
    );
}

#[test]
fn identifiers_are_unique_and_those_referred_to_exist() {
    let html = &rough().html;
    let values = |name: &str| -> Vec<String> {
        let opening = format!(" {name}=\"");
        html.match_indices(&opening)
            .map(|(at, _)| {
                html[at + opening.len()..]
                    .split('"')
                    .next()
                    .unwrap()
                    .to_owned()
            })
            .collect()
    };
    let mut ids = values("id");
    let count = ids.len();
    ids.sort();
    ids.dedup();
    assert_eq!(ids.len(), count);
    for name in ["aria-labelledby", "aria-describedby"] {
        for list in values(name) {
            for id in list.split_whitespace() {
                assert!(ids.iter().any(|i| i == id), "{id}");
            }
        }
    }
}

#[test]
fn cells_show_the_summary() {
    let Ridden { html, summary, .. } = rough();
    let tree = serde_json::to_value(summary).unwrap();
    let mut seen = 0;
    for (at, opening) in html.match_indices("data-figure=\"") {
        let rest = &html[at + opening.len()..];
        let (place, rest) = rest.split_once('"').unwrap();
        let scale: f64 = rest.split('"').nth(1).unwrap().parse().unwrap();
        let shown = rest.split_once('>').unwrap().1.split('<').next().unwrap();
        let value = tree.pointer(place).unwrap_or_else(|| panic!("{place}"));
        let Some(value) = value.as_f64() else {
            assert_eq!(shown, "–", "{place}");
            continue;
        };
        let digits = shown.split_once('.').map_or(0, |(_, d)| d.len());
        let number: f64 = shown.replace('−', "-").parse().unwrap();
        assert!(
            (number - scale * value).abs() <= 0.500_001 * 10_f64.powi(-(digits as i32)),
            "{place}: {shown}, {value}"
        );
        seen += 1;
    }
    assert!(seen >= 24, "{seen} cells");
}

#[test]
fn events_are_those_that_a_look_at_every_sample_finds() {
    let Ridden {
        html,
        summary,
        samples,
    } = rough();
    let data = json(html);
    let times = |kind: &str| -> Vec<f64> {
        let events = data["events"].as_array().unwrap().iter();
        events
            .filter(|e| e["kind"] == kind)
            .map(|e| e["at_s"].as_f64().unwrap())
            .collect()
    };
    let end = rig().seat.travel_m;
    let contacts = |travel: &dyn Fn(usize) -> f64| -> Vec<f64> {
        (1..samples.len())
            .filter(|&k| travel(k).abs() >= end && travel(k - 1).abs() < end)
            .map(|k| samples[k].time_s)
            .collect()
    };
    let law = contacts(&|k| samples[k].travel);
    let passive = contacts(&|k| samples[k].passive_travel);
    assert!(law.len() > 3 && passive.len() > 3 && law.len() <= 100 && passive.len() <= 100);
    assert_eq!(times("contact"), law);
    assert_eq!(times("passive-contact"), passive);

    // The fault as it was put in, and as the summary says it was noticed.
    let figures = &summary.faults[0];
    assert_eq!(times("fault"), [figures.onset_s]);
    let answers = times("answer");
    for after in [figures.noticed_after_s, figures.drive_off_after_s]
        .into_iter()
        .flatten()
    {
        assert!(
            answers.iter().any(|t| (t - 10.0 - after).abs() < 1e-9),
            "{after}: {answers:?}"
        );
    }

    // Every arrest listed is one: the law isolated and was overruled within the time that joins two of them, and
    // the seat was nearer to a stop nowhere around it.
    let arrests = times("arrest");
    assert!(arrests.len() > 3);
    for at in arrests {
        let k = (at * 1000.0).round() as usize;
        let near = &samples[k.saturating_sub(160)..(k + 160).min(samples.len())];
        assert!(near.iter().any(|s| s.arrest_mps2() != 0.0), "{at}");
        let here = samples[k].travel.abs();
        assert!(
            samples[k - 1].travel.abs() <= here || samples[k - 1].arrest_mps2() == 0.0,
            "{at}"
        );
    }

    // The largest values are those of the summary, where it says they are.
    let extremes = times("extreme");
    assert_eq!(extremes.len(), 5);
    let peak = samples
        .iter()
        .filter(|s| s.time_s >= 2.0 - 1e-9)
        .max_by(|a, b| a.seat_accel.abs().total_cmp(&b.seat_accel.abs()));
    let peak = peak.unwrap();
    assert!(extremes.iter().any(|t| (t - peak.time_s).abs() < 1e-9));
    assert!((peak.seat_accel.abs() - summary.seat.peak_mps2).abs() < 1e-9);
}

#[test]
fn every_arrest_and_fault_has_its_slow_stretch_and_the_closest_are_foremost() {
    let data = json(&rough().html);
    let events = data["events"].as_array().unwrap();
    let slow = |kind: &str| {
        events
            .iter()
            .filter(|e| e["kind"] == kind && !e["slow_s"].is_null())
            .count()
    };
    assert_eq!(slow("fault"), 1);
    for kind in ["arrest", "contact", "answer"] {
        assert_eq!(
            slow(kind),
            events.iter().filter(|e| e["kind"] == kind).count()
        );
    }
    for kind in ["mode", "extreme", "passive-contact"] {
        assert_eq!(slow(kind), 0);
    }
    let foremost = |kind: &str| {
        events
            .iter()
            .filter(|e| e["kind"] == kind && e["foremost"] == true)
            .count()
    };
    assert_eq!(foremost("fault"), 1);
    assert!((1..=12).contains(&foremost("arrest")) && (1..=12).contains(&foremost("contact")));
    for event in events.iter().filter(|e| !e["slow_s"].is_null()) {
        let [from, to] = [0, 1].map(|i| event["slow_s"][i].as_f64().unwrap());
        let at = event["at_s"].as_f64().unwrap();
        assert!(from < at && at < to && to - from < 1.0);
    }
}

#[test]
fn sizes_are_bounded() {
    // 60 s on the roughest floor; 20 minutes and 2 hours of it by the same samples again and again.
    let minute = ridden(&rig(), &spec("hauler", 4.0, 60.0));
    println!("60 s: {} bytes", minute.html.len());
    assert!(minute.html.len() < 2_000_000, "{}", minute.html.len());
    for minutes in [20, 120] {
        let spec = spec("hauler", 4.0, 60.0 * f64::from(minutes));
        let mut recorder = Recorder::new(&rig(), &spec).unwrap();
        for n in 0..minutes {
            for sample in &minute.samples {
                let mut sample = *sample;
                sample.time_s += 60.0 * f64::from(n);
                recorder.push(&sample);
            }
        }
        let html = recorder.page(&minute.summary).unwrap();
        println!("{minutes} min: {} bytes", html.len());
        assert!(html.len() < 12_000_000, "{}", html.len());
    }
}

#[test]
fn a_ride_of_a_blink_and_one_without_anybody_make_a_page() {
    let mut blink = spec("sine", 1.0, 0.1);
    blink.skip_s = 0.05;
    let html = ridden(&rig(), &blink).html;
    assert!(html.ends_with("</html>\n") && !html.contains("NaN"));
    let mut empty = spec("loader", 1.0, 3.0);
    empty.occupant_kg = 0.0;
    let data = json(&ridden(&rig(), &empty).html);
    assert_eq!(data["occupants"], serde_json::json!([[0.0, 0.0]]));
}

#[test]
fn the_set_is_called_proven_only_where_it_is() {
    // The default rig: the certificate of `becalm certify` holds in all arithmetics (proof_certify.rs).
    for arithmetic in Arithmetic::ALL {
        assert!(
            standing(&rig(), arithmetic).unwrap().proved,
            "{arithmetic:?}"
        );
    }
    assert!(rough().html.contains("Shaded: the proven set."));
    // Half the current, as proof_certify refuses half the force; and a touch speed that no proof reaches.
    let mut weak = rig();
    weak.actuator.current_max_a *= 0.5;
    let mut strict = rig();
    strict.proof.touch_mps = 0.05;
    for rig in [weak, strict] {
        assert!(!standing(&rig, Arithmetic::F32).unwrap().proved);
        let html = ridden(&rig, &spec("loader", 1.0, 3.0)).html;
        assert!(
            html.contains("This rig has no proven set")
                && !html.contains("Shaded: the proven set.")
        );
        assert!(html.contains("no proven set: tried, not proved"));
    }
}
