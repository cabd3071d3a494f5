//! The ride in the dossier's page, in a browser: it opens when it is asked to, plays, closes, keeps nobody from printing,
//! complains of nothing and asks for nothing. Needs Chromium, else says NOT RUN.

use becalm_tests::dossier::made;
use becalm_tests::player::browser::Browser;
use serde_json::json;
use std::time::{Duration, Instant};

const INSIDE: &str = "document.querySelector('#ride-room iframe').contentDocument";
const READY: &str = "document.querySelector('#ride-room iframe') && \
    document.querySelector('#ride-room iframe').contentDocument.body && \
    document.querySelector('#ride-room iframe').contentDocument.body.dataset.ready === 'yes'";
/// Browsers that a page keeps from printing never end; on a loaded machine a sound one takes seconds.
const PRINTED: Duration = Duration::from_secs(30);

fn opened(media: &[(&str, &str)]) -> Option<Browser> {
    let html =
        std::fs::read_to_string(made().folder.path().join("dossier.html")).expect("the page");
    Browser::open_until(&html, media, "document.readyState === 'complete'")
}

/// Bytes of the page as printed (PDF in base64), and the time that it took.
fn print(page: &mut Browser) -> usize {
    let start = Instant::now();
    let pdf = page.ask("Page.printToPDF", &json!({"printBackground": false}));
    assert!(start.elapsed() < PRINTED, "{:?}", start.elapsed());
    let data = pdf["data"].as_str().expect("a PDF");
    // `%PDF-` in base64.
    assert!(data.starts_with("JVBERi"));
    data.len()
}

#[test]
fn the_ride_opens_when_it_is_asked_to_and_plays() {
    let Some(mut page) = opened(&[("prefers-reduced-motion", "no-preference")]) else {
        return;
    };
    let frames = "document.querySelectorAll('iframe').length";
    assert_eq!(page.number(frames), 0.0, "nothing runs before");
    assert_eq!(
        page.number(
            "document.getElementById('ride-open').getBoundingClientRect().height >= 44 ? 1 : 0"
        ),
        1.0
    );
    // By keys alone.
    page.value("document.getElementById('ride-open').focus()");
    page.ask(
        "Input.dispatchKeyEvent",
        &json!({"type": "keyDown", "key": "Enter", "code": "Enter", "text": "\r", "windowsVirtualKeyCode": 13}),
    );
    page.until(READY);
    assert_eq!(page.number(frames), 1.0);
    let title = page.text("document.querySelector('iframe').title");
    assert_eq!(title, "The ride, played");
    let expanded = "document.getElementById('ride-open').getAttribute('aria-expanded')";
    assert_eq!(page.text(expanded), "true");
    // The keys are the ride's at once.
    page.until("document.activeElement === document.querySelector('iframe')");
    let now = format!("parseFloat({INSIDE}.getElementById('now').textContent)");
    let start = page.number(&now);
    page.key("k", 0);
    page.until(&format!("{now} > {start} + 0.3"));
    page.key("k", 0);
    let figures = format!("{INSIDE}.querySelectorAll('[data-figure]').length");
    assert!(page.number(&figures) >= 24.0);
    // No way out of the page to what is not there.
    let links = format!(
        "[...{INSIDE}.querySelectorAll('a[href]')].filter((a) => !a.getAttribute('href').startsWith('#')).length"
    );
    assert_eq!(page.number(&links), 0.0);
    // It fits the window: nothing is to be pulled sideways.
    assert_eq!(
        page.value("document.documentElement.scrollWidth <= document.documentElement.clientWidth"),
        true
    );
    page.value("document.getElementById('ride-open').click()");
    assert_eq!(page.number(frames), 0.0, "closed again");
    assert_eq!(page.text(expanded), "false");
    page.content();
    for url in &page.requests {
        let own = url.starts_with("file:") && url.ends_with("/ride.html");
        assert!(own || url == "about:srcdoc", "{url}");
    }
}

/// With the ride closed and with it open; what is printed is the same.
#[test]
fn the_page_is_printed_in_time() {
    let Some(mut page) = opened(&[]) else {
        return;
    };
    let closed = print(&mut page);
    page.value("document.getElementById('ride-open').click()");
    page.until(READY);
    let open = print(&mut page);
    assert!(closed.abs_diff(open) < closed / 50, "{closed} {open}");
    assert_eq!(
        page.number("document.querySelectorAll('iframe').length"),
        1.0
    );
    page.content();
}

/// On a screen, in a narrow window and on a telephone, with a text size of 16 and of 20 px: no cell is wider than its
/// column, and no word lies on its neighbour.
#[test]
fn no_cell_is_wider_than_its_column() {
    let Some(mut page) = opened(&[]) else {
        return;
    };
    for (width, size) in [
        (1280, 16),
        (1280, 20),
        (900, 16),
        (760, 16),
        (480, 16),
        (360, 16),
    ] {
        page.ask(
            "Emulation.setDeviceMetricsOverride",
            &json!({"width": width, "height": 900, "deviceScaleFactor": 1, "mobile": false}),
        );
        page.value(&format!(
            "document.documentElement.style.fontSize = '{size}px'"
        ));
        let wide = page.text(
            "[...document.querySelectorAll('.limits th, .limits td, .figures th, .figures td')]\
             .filter((cell) => cell.scrollWidth > cell.clientWidth + 1)\
             .slice(0, 5).map((cell) => cell.textContent.slice(0, 40)).join(' | ')",
        );
        assert_eq!(wide, "", "{width} px, {size} px of text");
        assert_eq!(
            page.value(
                "document.documentElement.scrollWidth <= document.documentElement.clientWidth"
            ),
            true,
            "{width} px, {size} px of text"
        );
    }
    page.content();
}

/// Both rides can be opened, each in its own frame, and in a frame seats, traces and controls are seen together on windows
/// of usual sizes.
#[test]
fn the_frame_shows_seats_and_traces_together() {
    let Some(mut page) = opened(&[]) else {
        return;
    };
    for id in ["fault", "ride"] {
        page.size(1280, 720);
        page.value(&format!("document.getElementById('{id}-open').click()"));
        page.until(&READY.replace("ride-room", &format!("{id}-room")));
        let inside = INSIDE.replace("ride-room", &format!("{id}-room"));
        for (width, height) in [(1280, 720), (1280, 900), (1920, 1080)] {
            page.size(width, height);
            page.value(&format!(
                "document.getElementById('{id}-open').scrollIntoView()"
            ));
            for selector in ["#scene-passive", "#scene-law", "#traces", ".controls"] {
                let found = page.value(&format!(
                    "(() => {{ const f = document.querySelector('#{id}-room iframe').getBoundingClientRect(), \
                     b = {inside}.querySelector('{selector}').getBoundingClientRect(); \
                     return [f.left + b.left, f.top + b.top, f.left + b.right, f.top + b.bottom, f.bottom]; }})()"
                ));
                let [left, top, right, bottom, frame] =
                    std::array::from_fn(|n| found[n].as_f64().expect("a place"));
                let (width, height) = (f64::from(width), f64::from(height));
                assert!(
                    left >= 0.0
                        && top >= 0.0
                        && right <= width
                        && bottom <= frame
                        && frame <= height,
                    "{id} {selector} in {width} x {height}: {found}"
                );
            }
            let traces = format!("{inside}.getElementById('traces').clientHeight");
            assert!(page.number(&traces) >= 280.0);
        }
        page.value(&format!("document.getElementById('{id}-open').click()"));
    }
    assert_eq!(
        page.number("document.querySelectorAll('iframe').length"),
        0.0
    );
    page.content();
}

/// On a screen details are closed; on paper every one is open, and closed again after it.
#[test]
fn details_are_printed() {
    let Some(mut page) = opened(&[]) else {
        return;
    };
    let all = page.number("document.querySelectorAll('details').length");
    let open = "document.querySelectorAll('details[open]').length";
    assert!(all as usize == made().dossier.verdicts.len());
    assert_eq!(page.number(open), 0.0);
    page.value(&format!(
        "window.addEventListener('beforeprint', () => {{ window.onPaper = {open}; }})"
    ));
    print(&mut page);
    assert_eq!(page.number("window.onPaper"), all);
    assert_eq!(page.number(open), 0.0);
    page.content();
}

/// In the chart every name is whole, every number stands clear of bars and of the line at 100 %, and all is in the window.
#[test]
fn the_chart_is_whole_however_wide_the_window() {
    let Some(mut page) = opened(&[]) else {
        return;
    };
    for width in [1280, 760, 400] {
        page.size(width, 900);
        let rows = page.value(
            "[...document.querySelectorAll('.used tbody tr')].map((row) => ['th a', '.track div', '.value', '.edge', '.bar'].map((s) => { \
             const b = row.querySelector(s).getBoundingClientRect(); return [b.left, b.right, b.top, b.bottom]; }))",
        );
        let rows = rows.as_array().expect("rows");
        assert!(rows.len() > 20);
        for row in rows {
            let place = |n: usize| -> [f64; 4] {
                std::array::from_fn(|i| row[n][i].as_f64().expect("a place"))
            };
            let [name, track, value, edge, bar] = [0, 1, 2, 3, 4].map(place);
            let apart = |a: &[f64; 4], b: &[f64; 4]| {
                a[1] <= b[0] || b[1] <= a[0] || a[3] <= b[2] || b[3] <= a[2]
            };
            for (a, b) in [
                (&name, &track),
                (&name, &value),
                (&value, &track),
                (&value, &edge),
                (&value, &bar),
            ] {
                assert!(apart(a, b), "{width}: {row}");
            }
            assert!(
                name[0] >= 0.0 && value[1] <= f64::from(width),
                "{width}: {row}"
            );
            assert!(track[1] - track[0] >= 250.0, "{width}: {row}");
            // The line stands at the limit of an axis that ends at half as much again.
            let share = (edge[0] - track[0]) / (track[1] - track[0]);
            assert!((share - 1.0 / 1.5).abs() < 0.01, "{share}");
        }
        let cut = page.number(
            "[...document.querySelectorAll('.used th, .used td')].filter((c) => c.scrollWidth > c.clientWidth + 1).length",
        );
        assert_eq!(cut, 0.0, "{width}");
        assert_eq!(
            page.value(
                "document.documentElement.scrollWidth <= document.documentElement.clientWidth"
            ),
            true
        );
    }
    page.content();
}
