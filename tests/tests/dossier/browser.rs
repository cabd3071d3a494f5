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
