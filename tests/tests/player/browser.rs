//! The page in a browser: it plays, scrubs and jumps, by pointer and by keys; it shows the figures of the summary and
//! the peaks of the ride; it complains of nothing and asks for nothing. Needs Chromium, else says NOT RUN.

use becalm_tests::player::browser::Browser;
use becalm_tests::player::{Ridden, data, fault, ridden, spec};
use host_sim::ride::Sample;
use host_sim::rig::Rig;
use serde_json::Value;
use std::sync::OnceLock;
use std::time::Duration;

const CALM: (&str, &str) = ("prefers-reduced-motion", "reduce");
pub(super) const MOVING: (&str, &str) = ("prefers-reduced-motion", "no-preference");

/// A rough ride of 30 s with a fault at 20 s.
pub(super) fn rough() -> &'static Ridden {
    static RIDE: OnceLock<Ridden> = OnceLock::new();
    RIDE.get_or_init(|| {
        let mut spec = spec("hauler", 2.5, 30.0);
        spec.faults.push(fault("motor-reversed", 20.0));
        ridden(&Rig::default_machine().unwrap(), &spec)
    })
}

fn events() -> Vec<Value> {
    let data: Value = serde_json::from_str(data(&rough().html, "ride-data")).unwrap();
    data["events"].as_array().unwrap().clone()
}

fn pause() {
    std::thread::sleep(Duration::from_millis(300));
}

#[test]
fn it_plays_and_stops_offline_and_without_complaint() {
    let Some(mut page) = Browser::open(&rough().html, &[MOVING]) else {
        return;
    };
    assert_eq!(page.time(), 2.0, "it opens where the figures begin");
    pause();
    assert_eq!(page.time(), 2.0, "nothing moves before it is asked to");
    let seat = "document.querySelector('#scene-law [data-part=seat]').getAttribute('transform')";
    let before = page.text(seat);
    page.value("document.getElementById('play').click()");
    page.until("parseFloat(document.getElementById('now').textContent) > 2.3");
    assert_ne!(page.text(seat), before, "the seat moves");
    page.value("document.activeElement.blur()");
    page.key(" ", 0);
    let at = page.time();
    pause();
    assert_eq!(page.time(), at, "the space key stops it");
    assert_eq!(
        page.text("document.getElementById('pace').textContent"),
        "stopped"
    );
    assert!(
        !page
            .text("document.getElementById('said').textContent")
            .is_empty()
    );
    // To the end, fast: it stops there, and begins anew.
    page.value("(() => { const s = document.getElementById('speed'); s.value = '30'; s.dispatchEvent(new Event('change')); })()");
    page.value("(() => { const s = document.getElementById('slow'); s.value = 'off'; s.dispatchEvent(new Event('change')); })()");
    page.key("k", 0);
    page.until("document.body.dataset.playing === 'false'");
    assert_eq!(page.time(), 30.0);
    page.content();
    assert!(
        page.requests
            .iter()
            .all(|url| url.starts_with("file:") && url.ends_with("/ride.html")),
        "{:?}",
        page.requests
    );
}

#[test]
fn keys_do_what_the_page_says() {
    let Some(mut page) = Browser::open(&rough().html, &[MOVING]) else {
        return;
    };
    let mut press = |key: &str, modifiers: u32, expected: f64| {
        page.key(key, modifiers);
        let at = page.time();
        assert!((at - expected).abs() < 6e-4, "{key}: {at}, not {expected}");
    };
    press("ArrowRight", 0, 2.1);
    press("ArrowRight", 8, 2.101);
    press("ArrowLeft", 8, 2.1);
    press("PageDown", 0, 12.1);
    press("PageUp", 0, 2.1);
    press("ArrowLeft", 0, 2.0);
    press("End", 0, 30.0);
    press("Home", 0, 0.0);
    let all: Vec<f64> = events()
        .iter()
        .map(|e| e["at_s"].as_f64().unwrap())
        .collect();
    // From event to event, and back.
    let mut at = 0.0;
    for _ in 0..4 {
        at = *all.iter().find(|t| **t > at + 5e-4).unwrap();
        press("n", 0, at);
    }
    let before = all.iter().rev().find(|t| **t < at - 5e-4).unwrap();
    press("p", 0, *before);
    // Of one kind.
    page.value("(() => { const k = document.getElementById('kind'); k.value = 'fault'; k.dispatchEvent(new Event('change')); })()");
    page.key("n", 0);
    assert_eq!(page.time(), 20.0);
    let hidden = page.number(
        "[...document.querySelectorAll('#events tbody tr')].filter((r) => !r.hidden).length",
    );
    assert_eq!(hidden, 1.0);
    // Speed, stretch, slow motion.
    page.key("ArrowUp", 0);
    assert_eq!(page.text("document.getElementById('speed').value"), "2");
    page.key("+", 0);
    assert_eq!(page.text("document.getElementById('span').value"), "5");
    page.key("s", 0);
    assert_eq!(page.text("document.getElementById('slow').value"), "every");
    // Keys of one letter can be switched off; the others stay.
    page.value("document.getElementById('letters').click()");
    page.value("document.activeElement.blur()");
    page.key("p", 0);
    assert_eq!(page.time(), 20.0);
    page.key("Home", 0);
    assert_eq!(page.time(), 0.0);
    // In a list the keys are the list's own.
    page.value("document.getElementById('kind').focus()");
    page.key("End", 0);
    assert_eq!(page.time(), 0.0);
    page.content();
}

#[test]
fn the_pointer_pulls_presses_and_jumps() {
    let Some(mut page) = Browser::open(&rough().html, &[MOVING]) else {
        return;
    };
    let [left, top, width, height] = page.place("#overview");
    let middle = (left + 0.5 * width, top + 0.2 * height);
    page.drag(&[middle, (left + 0.25 * width, middle.1)]);
    assert!((page.time() - 7.5).abs() < 0.1, "{}", page.time());
    // On a mark: exactly to its event.
    let mark = (left + 20.0 / 30.0 * width + 1.0, top + 0.6 * height);
    page.drag(&[mark]);
    let at = page.time();
    assert!(
        events()
            .iter()
            .any(|e| (e["at_s"].as_f64().unwrap() - at).abs() < 6e-4),
        "{at}"
    );
    assert!((at - 20.0).abs() < 0.2);
    // The traces, 10 s wide, pulled to the right by a tenth: a second back.
    let [left, top, width, height] = page.place("#traces");
    let from = page.time();
    let place = |x: f64| (left + x, top + 0.5 * height);
    // On the left the numbers have their room, on the right there are 8 px.
    let numbers = page.number("becalmRide.plot().left");
    assert!((20.0..80.0).contains(&numbers), "{numbers}");
    page.drag(&[
        place(200.0),
        place(220.0),
        place(200.0 + 0.1 * (width - numbers - 8.0)),
    ]);
    assert!(
        (page.time() - (from - 1.0)).abs() < 0.02,
        "{} from {from}",
        page.time()
    );
    // A row of the list.
    page.value("document.querySelector('#events tr[data-kind=fault] button').click()");
    assert_eq!(page.time(), 20.0);
    assert_eq!(
        page.number("document.querySelectorAll('#events tr[aria-current]').length"),
        1.0
    );
    // The slider.
    page.value("(() => { const s = document.getElementById('scrub'); s.value = 11.5; s.dispatchEvent(new Event('input')); })()");
    assert_eq!(page.time(), 11.5);
    page.value("location.hash = '#t=4.25'");
    page.until("document.getElementById('now').textContent === '4.250 s'");
    page.content();
}

#[test]
fn faults_are_passed_slowly_unless_switched_off() {
    let Some(mut page) = Browser::open(&rough().html, &[MOVING]) else {
        return;
    };
    page.value("location.hash = '#t=19.6'");
    page.until("document.getElementById('now').textContent === '19.600 s'");
    page.key("k", 0);
    page.until("parseFloat(document.getElementById('now').textContent) >= 19.85");
    assert!(
        page.text("document.getElementById('pace').textContent")
            .contains("speed 1/10, slow motion: ")
    );
    // The page's own clock against the ride's: 0.1 s a second.
    let measured = "new Promise((done) => { const t = () => parseFloat(document.getElementById('now').textContent); \
                    const [a, b] = [performance.now(), t()]; setTimeout(() => done((t() - b) / (performance.now() - a) * 1000), 800); })";
    let speed = page.number(measured);
    assert!((0.05..0.13).contains(&speed), "{speed}");
    page.key("s", 0);
    page.key("s", 0);
    page.until("document.getElementById('pace').textContent === 'speed 1'");
    page.content();
}

#[test]
fn less_motion_is_respected() {
    let Some(mut page) = Browser::open(&rough().html, &[CALM]) else {
        return;
    };
    assert_eq!(
        page.value("document.getElementById('motion-label').hidden"),
        false
    );
    page.value("window.seen = new Set(); new MutationObserver(() => seen.add(document.getElementById('now').textContent))\
                .observe(document.getElementById('now'), {childList: true, characterData: true, subtree: true})");
    page.key("k", 0);
    page.until("seen.size >= 3");
    page.key("k", 0);
    let seen = page.value("[...seen]");
    for (n, text) in seen.as_array().unwrap().iter().enumerate() {
        assert_eq!(
            text.as_str().unwrap(),
            format!("{}.000 s", n + 3),
            "stills, a second apart"
        );
    }
    // Nothing on the page moves by style either.
    let moving = page.number(
        "[...document.querySelectorAll('*')].filter((e) => { const s = getComputedStyle(e); \
         return s.animationName !== 'none' || parseFloat(s.transitionDuration) > 0; }).length",
    );
    assert_eq!(moving, 0.0);
    // Whoever wants the moving picture gets it.
    page.value("document.getElementById('motion').click()");
    page.value("document.activeElement.blur()");
    page.value("seen.clear()");
    page.key("k", 0);
    page.until("seen.size > 10");
    page.content();
}

#[test]
fn it_shows_the_figures_of_the_summary() {
    let Some(mut page) = Browser::open(&rough().html, &[]) else {
        return;
    };
    let tree = serde_json::to_value(&rough().summary).unwrap();
    let cells = page.value(
        "[...document.querySelectorAll('[data-figure]')].map((c) => [c.dataset.figure, Number(c.dataset.scale), c.innerText])",
    );
    let cells = cells.as_array().unwrap();
    assert!(cells.len() >= 24);
    for cell in cells {
        let (place, scale, text) = (
            cell[0].as_str().unwrap(),
            cell[1].as_f64().unwrap(),
            cell[2].as_str().unwrap(),
        );
        let Some(value) = tree.pointer(place).unwrap().as_f64() else {
            continue;
        };
        let digits = text.split_once('.').map_or(0, |(_, d)| d.len());
        let shown: f64 = text.replace('−', "-").parse().unwrap();
        assert!(
            (shown - scale * value).abs() <= 0.500_001 * 10_f64.powi(-(digits as i32)),
            "{place}: {text}"
        );
    }
}

/// A ride longer than every period can be kept of: at every level the page holds the extremes that a look at every
/// sample finds, within half a count; and values at a moment are those of the ride.
#[test]
fn peaks_survive_in_the_page() {
    let rig = Rig::default_machine().unwrap();
    let Ridden { html, samples, .. } = ridden(&rig, &spec("hauler", 2.5, 200.0));
    let Some(mut page) = Browser::open(&html, &[]) else {
        return;
    };
    let levels = page.number("becalmRide.levels.length") as usize;
    assert!(levels >= 3);
    for level in 0..levels {
        let width = page.number(&format!("becalmRide.levels[{level}].width")) as usize;
        assert!(width >= 2);
        for (name, value) in [
            ("lawAccel", (|s| s.seat_accel) as fn(&Sample) -> f64),
            ("passiveAccel", |s| s.passive_accel),
            ("lawTravel", |s| s.travel),
            ("force", |s| s.force),
        ] {
            let step = page.number(&format!("becalmRide.resolution.{name}"));
            for (side, pick) in [
                ("least", f64::min as fn(f64, f64) -> f64),
                ("greatest", f64::max),
            ] {
                let counts = page.value(&format!("[...becalmRide.levels[{level}].{side}.{name}]"));
                let counts = counts.as_array().unwrap();
                assert_eq!(counts.len(), samples.len().div_ceil(width));
                for (own, count) in samples.chunks(width).zip(counts) {
                    let truth = own.iter().map(value).reduce(pick).unwrap();
                    let shown = count.as_f64().unwrap() * step;
                    assert!(
                        (shown - truth).abs() <= 0.500_001 * step,
                        "{name} {side} {level}: {shown}, {truth}"
                    );
                }
            }
        }
    }
    // Times: what is shown at a kept instant is what was ridden then.
    let kept = page.number("becalmRide.kept");
    for n in [5_000_usize, 44_321, 99_999] {
        let time = n as f64 * kept;
        page.value(&format!("location.hash = '#t={time}'"));
        page.until(&format!(
            "Math.abs(parseFloat(document.getElementById('now').textContent) - {time}) < 6e-4"
        ));
        let sample = &samples[(time / rig.timing.step_s).round() as usize];
        assert!((sample.time_s - time).abs() < 1e-9);
        let shown: f64 = page
            .text("document.getElementById('v-lawTravel').textContent")
            .replace('−', "-")
            .parse()
            .unwrap();
        assert!(
            (shown - 1000.0 * sample.travel).abs() < 0.051,
            "{time}: {shown}, {}",
            sample.travel
        );
        let rate: f64 = page
            .text("document.getElementById('v-passiveRate').textContent")
            .replace('−', "-")
            .parse()
            .unwrap();
        assert!(
            (rate - sample.passive_travel_rate).abs() < 6e-4,
            "{time}: {rate}"
        );
    }
    page.content();
}

/// Contrast after WCAG 2.1 (relative luminance and contrast ratio as defined there): 4.5 for text, 3 for what is drawn.
#[test]
fn contrast_suffices_in_both_schemes() {
    let Some(mut page) = Browser::open(&rough().html, &[]) else {
        return;
    };
    for scheme in ["light", "dark"] {
        page.pretend(&[("prefers-color-scheme", scheme)]);
        let mut luminance = |name: &str| {
            let text = page.text(&format!(
                "getComputedStyle(document.documentElement).getPropertyValue('--{name}').trim()"
            ));
            let hex = text.trim_start_matches('#');
            let hex = if hex.len() == 3 {
                hex.chars().flat_map(|c| [c, c]).collect()
            } else {
                hex.to_owned()
            };
            let channel = |at: usize| {
                let c = f64::from(u8::from_str_radix(&hex[at..at + 2], 16).unwrap()) / 255.0;
                if c <= 0.03928 {
                    c / 12.92
                } else {
                    ((c + 0.055) / 1.055).powf(2.4)
                }
            };
            0.2126 * channel(0) + 0.7152 * channel(2) + 0.0722 * channel(4)
        };
        for (front, back, least) in [
            ("ink", "paper", 4.5),
            ("soft", "paper", 4.5),
            ("law", "paper", 4.5),
            ("passive", "paper", 4.5),
            ("care", "paper", 4.5),
            ("ink", "tint", 4.5),
            ("law", "set", 4.5),
            ("passive", "set", 3.0),
            ("care", "set", 3.0),
            ("floor", "paper", 3.0),
            ("stop", "paper", 3.0),
            ("mark", "paper", 3.0),
            ("mark", "tint", 3.0),
            ("cushion", "paper", 3.0),
        ] {
            let (a, b) = (luminance(front), luminance(back));
            let ratio = (a.max(b) + 0.05) / (a.min(b) + 0.05);
            assert!(ratio >= least, "{scheme}: {front} on {back}: {ratio:.2}");
        }
    }
}
