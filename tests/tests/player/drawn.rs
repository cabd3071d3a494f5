//! The page in a browser, as it is laid out and drawn: what lies in one window, words that are whole and cover nothing, peaks
//! as they are drawn, time a frame. Needs Chromium, else says NOT RUN.

use super::browser::{MOVING, rough};
use becalm_tests::player::browser::Browser;
use becalm_tests::player::{ridden, spec};
use host_sim::rig::Rig;
use std::time::Instant;

/// What is to be watched together, on windows of usual sizes.
const TOGETHER: [&str; 5] = [
    "#scene-passive",
    "#scene-law",
    "#traces",
    ".controls",
    "#play",
];

/// Both seats, the traces and the controls lie in the window at once, whole, none on another, and nothing covers a trace.
#[test]
fn seats_traces_and_controls_are_seen_together() {
    let Some(mut page) = Browser::open(&rough().html, &[]) else {
        return;
    };
    // The last is what the dossier's frame leaves of 1280 x 720.
    for (width, height) in [(1280, 720), (1280, 900), (1920, 1080), (1238, 650)] {
        page.size(width, height);
        let mut boxes = Vec::new();
        for selector in TOGETHER {
            let [left, top, right, bottom] = page.edges(selector);
            let (width, height) = (f64::from(width), f64::from(height));
            assert!(
                left >= 0.0 && top >= 0.0 && right <= width && bottom <= height,
                "{selector} in {width} x {height}: {left} {top} {right} {bottom}"
            );
            boxes.push([left, top, right, bottom]);
        }
        let size = |n: usize| [boxes[n][2] - boxes[n][0], boxes[n][3] - boxes[n][1]];
        assert!(size(0)[1] >= 250.0 && size(1)[1] >= 250.0, "{boxes:?}");
        assert!(size(2)[0] >= 400.0 && size(2)[1] >= 300.0, "{boxes:?}");
        for (n, a) in boxes[..4].iter().enumerate() {
            for b in &boxes[n + 1..4] {
                let apart = a[2] <= b[0] || b[2] <= a[0] || a[3] <= b[1] || b[3] <= a[1];
                assert!(apart, "{width} x {height}: {a:?} {b:?}");
            }
        }
        let covered = page.number(
            "(() => { const c = document.getElementById('traces'), b = c.getBoundingClientRect(); let n = 0; \
             for (let x = 0.02; x < 1; x += 0.12) for (let y = 0.02; y < 1; y += 0.06) \
             if (document.elementFromPoint(b.left + x * b.width, b.top + y * b.height) !== c) n += 1; return n; })()",
        );
        assert_eq!(covered, 0.0, "{width} x {height}");
    }
    page.content();
}

/// In a narrow window they stand one below the other, in this order, and nothing is to be pulled sideways.
#[test]
fn a_narrow_window_stacks() {
    let Some(mut page) = Browser::open(&rough().html, &[]) else {
        return;
    };
    page.size(400, 800);
    let seats = page.edges("#scene-law");
    let traces = page.edges("#traces");
    let controls = page.edges(".controls");
    assert!(seats[3] <= traces[1] && traces[3] <= controls[1]);
    assert!(traces[3] - traces[1] >= 250.0 && traces[2] - traces[0] >= 350.0);
    assert_eq!(
        page.value("document.documentElement.scrollWidth <= document.documentElement.clientWidth"),
        true
    );
    // The key to the marks is told whole.
    let key = "(() => { const h = document.getElementById('hint'); \
               return h.scrollWidth <= h.clientWidth && h.scrollHeight <= h.clientHeight; })()";
    assert_eq!(page.value(key), true);
    page.content();
}

/// Listens to what is drawn on the traces: `heard` gets its words with their place, the boxes of the strips, and the
/// corners of the lines and areas within each.
const LISTEN: &str = "(() => { const pen = CanvasRenderingContext2D.prototype, own = (p) => p.canvas.id === 'traces'; \
    window.heard = { words: [], boxes: [], corners: [] }; let last = null, open = null; \
    const wrap = (name, look) => { const old = pen[name]; pen[name] = function (...given) { if (own(this)) look(this, given); return old.apply(this, given); }; }; \
    wrap('fillText', (p, [text, x, y]) => { const wide = p.measureText(text).width; \
      const left = x - (p.textAlign === 'right' ? wide : p.textAlign === 'center' ? wide / 2 : 0); heard.words.push([text, left, left + wide, y, p.textAlign]); }); \
    wrap('rect', (p, given) => { last = given; if (open) open.push(given[1], given[1] + given[3]); }); \
    wrap('clip', () => { heard.boxes.push(last); open = []; heard.corners.push(open); }); \
    wrap('lineTo', (p, [x, y]) => { if (open) open.push(y); }); \
    wrap('restore', () => { open = null; }); })()";

/// No word is cut off at the canvas' edge, and none lies on a trace.
#[test]
fn words_of_the_traces_stand_clear() {
    let Some(mut page) = Browser::open(&rough().html, &[]) else {
        return;
    };
    page.value("location.hash = '#t=20.1'");
    page.until("document.getElementById('now').textContent === '20.100 s'");
    page.value(LISTEN);
    for (width, height) in [(400, 800), (700, 900), (1280, 720)] {
        page.size(width, height);
        page.value("heard.words.length = 0; heard.boxes.length = 0; heard.corners.length = 0; window.dispatchEvent(new Event('resize'))");
        let canvas = page.edges("#traces");
        let heard = page.value("heard");
        let list = |name: &str| heard[name].as_array().expect("a list").clone();
        let (words, boxes) = (list("words"), list("boxes"));
        assert_eq!(boxes.len(), 3);
        assert!(words.iter().any(|w| w[0] == "+1000"), "{words:?}");
        assert!(
            words
                .iter()
                .any(|w| w[0].as_str().unwrap().starts_with('↑'))
        );
        for word in &words {
            let [left, right, base] = [1, 2, 3].map(|n| word[n].as_f64().unwrap());
            assert!(
                left >= 0.0 && right <= canvas[2] - canvas[0],
                "{width}: {word}"
            );
            for strip in &boxes {
                let [x, top, wide, high] = [0, 1, 2, 3].map(|n| strip[n].as_f64().unwrap());
                // Capitals of 12 px type are 9 px high (common practice, no source).
                let beside = right <= x || left >= x + wide;
                let clear = base + 1.0 <= top || base - 9.0 >= top + high;
                assert!(beside || clear, "{width}: {word} on {strip}");
            }
        }
    }
    page.content();
}

/// However many samples a pixel stands for, the lines and areas reach as far as the ride did. A strip's scale is 1.08 times
/// the largest value of what it holds, so the farthest corner stands at 1/1.08 of its half height.
#[test]
fn what_is_drawn_reaches_the_peaks() {
    let rig = Rig::default_machine().unwrap();
    let html = ridden(&rig, &spec("hauler", 2.5, 200.0)).html;
    let Some(mut page) = Browser::open(&html, &[]) else {
        return;
    };
    page.value(LISTEN);
    // 300 s of traces at 100 s show the whole ride.
    page.value("(() => { const s = document.getElementById('span'); s.value = '300'; s.dispatchEvent(new Event('change')); })()");
    for width in [400, 1280, 1920] {
        page.size(width, 900);
        page.value("location.hash = '#t=99'");
        page.until("document.getElementById('now').textContent === '99.000 s'");
        page.value("heard.words.length = 0; heard.boxes.length = 0; heard.corners.length = 0; location.hash = '#t=100'");
        page.until("document.getElementById('now').textContent === '100.000 s'");
        let heard = page.value("heard");
        for strip in [1, 2] {
            let [_, top, _, high] =
                [0, 1, 2, 3].map(|n| heard["boxes"][strip][n].as_f64().unwrap());
            let corners = heard["corners"][strip].as_array().unwrap();
            assert!(corners.len() > 200, "{}", corners.len());
            let middle = top + 0.5 * high;
            let reach = corners.iter().map(|y| (y.as_f64().unwrap() - middle).abs());
            let reach = reach.fold(0.0, f64::max);
            let expected = 0.5 * high / 1.08;
            // Half a line's width, and the floor of a count.
            assert!(
                (reach - expected).abs() < 1.5,
                "{width} {strip}: {reach}, {expected}"
            );
        }
    }
    page.content();
}

/// 20 minutes: it opens, scrubs and plays. A place needs a few ms and a frame comes every 17 ms on an idle machine of two
/// cores that draws in software; the bounds are wide, for loaded machines; the figures are printed.
#[test]
fn twenty_minutes_open_scrub_and_play() {
    let rig = Rig::default_machine().unwrap();
    let html = ridden(&rig, &spec("grader", 2.5, 1200.0)).html;
    let start = Instant::now();
    let Some(mut page) = Browser::open(&html, &[MOVING]) else {
        return;
    };
    println!(
        "{} bytes, open after {:.1} s with the browser's own start",
        html.len(),
        start.elapsed().as_secs_f64()
    );
    let scrub = "(() => { const s = document.getElementById('scrub'); const a = performance.now(); \
                 for (let n = 0; n < 100; n += 1) { s.value = (n * 611.7) % 1200; s.dispatchEvent(new Event('input')); } \
                 return (performance.now() - a) / 100; })()";
    // From frame to frame while it plays: drawing comes after the script.
    let frames = "new Promise((done) => { const play = document.getElementById('play'), at = []; play.click(); \
                  const next = (t) => { at.push(t); if (at.length < 30) requestAnimationFrame(next); else { play.click(); \
                  done(at.slice(1).map((t, n) => t - at[n]).sort((a, b) => a - b)[14]); } }; requestAnimationFrame(next); })";
    let choose = |id: &str, value: &str| {
        format!(
            "(() => {{ const s = document.getElementById('{id}'); s.value = '{value}'; s.dispatchEvent(new Event('change')); }})()"
        )
    };
    page.value(&choose("slow", "off"));
    page.value(&choose("speed", "5"));
    for span in ["10", "300"] {
        page.value(&choose("span", span));
        let each = page.number(scrub);
        page.value("location.hash = ''");
        page.value("location.hash = '#t=400'");
        page.until("document.getElementById('now').textContent === '400.000 s'");
        let frame = page.number(frames);
        println!("{span} s of traces: {each:.1} ms for one place, {frame:.1} ms a frame");
        assert!(each < 100.0 && frame < 120.0, "{each} ms, {frame} ms");
    }
    page.content();
}
