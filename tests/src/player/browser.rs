//! A headless Chromium, driven by the DevTools protocol over a pair of pipes: JSON objects, each ended by a zero
//! byte. Protocol: <https://chromedevtools.github.io/devtools-protocol/> (version 1.3).

use serde_json::{Value, json};
use std::fs::{self, File};
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::time::{Duration, Instant};
use tempfile::TempDir;

/// No answer of a sound browser takes longer.
const PATIENCE: Duration = Duration::from_secs(60);
const NAMES: [&str; 3] = ["chromium", "chromium-browser", "google-chrome"];

/// The browser's name, when there is one. If not, the test says that it was not run; that is a failure only
/// with BECALM_BROWSER=required.
pub fn name() -> Option<String> {
    let given = std::env::var("BECALM_CHROMIUM").ok();
    let names = NAMES.iter().map(|name| (*name).to_owned());
    let found = given
        .into_iter()
        .chain(names)
        .find(|name| Command::new(name).arg("--version").output().is_ok());
    if found.is_none() {
        let required = std::env::var("BECALM_BROWSER").is_ok_and(|v| v == "required");
        assert!(!required, "missing: Chromium (apt-get install chromium)");
        println!("NOT RUN: missing: Chromium (apt-get install chromium)");
    }
    found
}

/// One browser with one page.
pub struct Browser {
    child: Child,
    to: File,
    from: Receiver<Value>,
    session: String,
    sent: u64,
    /// What the page complained of, and what it asked the network for.
    pub complaints: Vec<String>,
    pub requests: Vec<String>,
    _folder: TempDir,
}

impl Browser {
    /// Opens a page that plays a ride; `media` are features to pretend, such as `prefers-reduced-motion`.
    pub fn open(html: &str, media: &[(&str, &str)]) -> Option<Self> {
        Self::open_until(html, media, "document.body.dataset.ready === 'yes'")
    }

    /// Opens a page and waits until `ready` is true in it.
    pub fn open_until(html: &str, media: &[(&str, &str)], ready: &str) -> Option<Self> {
        let name = name()?;
        let folder = tempfile::tempdir().expect("a folder");
        let page = folder.path().join("ride.html");
        fs::write(&page, html).expect("a page");
        let mut browser = Self::start(&name, folder);
        let target = browser.ask("Target.createTarget", &json!({"url": "about:blank"}));
        let attached = browser.ask(
            "Target.attachToTarget",
            &json!({"targetId": target["targetId"], "flatten": true}),
        );
        browser.session = attached["sessionId"]
            .as_str()
            .expect("a session")
            .to_owned();
        for domain in ["Page", "Runtime", "Log", "Network"] {
            browser.ask(&format!("{domain}.enable"), &json!({}));
        }
        browser.pretend(media);
        let size = json!({"width": 1280, "height": 900, "deviceScaleFactor": 1, "mobile": false});
        browser.ask("Emulation.setDeviceMetricsOverride", &size);
        let url = format!("file://{}", page.display());
        browser.ask("Page.navigate", &json!({"url": url}));
        browser.until(&format!("document.body && ({ready})"));
        Some(browser)
    }

    fn start(name: &str, folder: TempDir) -> Self {
        let place = |name: &str| folder.path().join(name);
        let (input, output) = (place("in"), place("out"));
        for fifo in [&input, &output] {
            let made = Command::new("mkfifo").arg(fifo).status();
            assert!(made.expect("mkfifo").success());
        }
        let profile = format!("--user-data-dir={}", place("profile").display());
        let redirect = format!(
            "exec \"$0\" \"$@\" 3<'{}' 4>'{}'",
            input.display(),
            output.display()
        );
        let child = Command::new("sh")
            .args([
                "-c",
                &redirect,
                name,
                "--headless",
                "--no-sandbox",
                "--disable-gpu",
            ])
            .args([
                "--no-first-run",
                "--disable-background-networking",
                "--disable-sync",
            ])
            .args([
                "--disable-dev-shm-usage",
                "--remote-debugging-pipe",
                &profile,
            ])
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .expect("a browser");
        let to = File::options().write(true).open(&input).expect("a pipe");
        let from = reader(&output);
        Self {
            child,
            to,
            from,
            session: String::new(),
            sent: 0,
            complaints: Vec::new(),
            requests: Vec::new(),
            _folder: folder,
        }
    }

    /// Sends a command and waits for its answer.
    pub fn ask(&mut self, method: &str, parameters: &Value) -> Value {
        self.sent += 1;
        let mut message = json!({"id": self.sent, "method": method, "params": parameters});
        if !self.session.is_empty() && !method.starts_with("Target.") {
            message["sessionId"] = self.session.as_str().into();
        }
        let mut bytes = message.to_string().into_bytes();
        bytes.push(0);
        self.to.write_all(&bytes).expect("the browser listens");
        loop {
            let answer = self.from.recv_timeout(PATIENCE);
            let mut answer = answer.unwrap_or_else(|e| panic!("{method}: no answer: {e}"));
            if answer["id"] == self.sent {
                assert!(answer.get("error").is_none(), "{method}: {answer}");
                return answer["result"].take();
            }
            self.hear(&answer);
        }
    }

    fn hear(&mut self, event: &Value) {
        let parameters = &event["params"];
        match event["method"].as_str() {
            Some("Runtime.exceptionThrown") => self.complaints.push(parameters.to_string()),
            Some("Runtime.consoleAPICalled")
                if matches!(
                    parameters["type"].as_str(),
                    Some("error" | "warning" | "assert")
                ) =>
            {
                self.complaints.push(parameters.to_string());
            }
            Some("Log.entryAdded") => self.complaints.push(parameters.to_string()),
            Some("Network.requestWillBeSent") => {
                let url = &parameters["request"]["url"];
                self.requests.push(url.as_str().unwrap_or("").to_owned());
            }
            _ => {}
        }
    }

    /// Pretends media features.
    pub fn pretend(&mut self, media: &[(&str, &str)]) {
        let features: Vec<Value> = media
            .iter()
            .map(|(name, value)| json!({"name": name, "value": value}))
            .collect();
        self.ask("Emulation.setEmulatedMedia", &json!({"features": features}));
    }

    /// The value of an expression in the page.
    pub fn value(&mut self, expression: &str) -> Value {
        let parameters =
            json!({"expression": expression, "returnByValue": true, "awaitPromise": true});
        let mut answer = self.ask("Runtime.evaluate", &parameters);
        let thrown = answer.get("exceptionDetails");
        assert!(thrown.is_none(), "{expression}: {answer}");
        answer["result"]["value"].take()
    }

    /// A number in the page.
    pub fn number(&mut self, expression: &str) -> f64 {
        let value = self.value(expression);
        value
            .as_f64()
            .unwrap_or_else(|| panic!("{expression}: {value} is no number"))
    }

    /// Text in the page.
    pub fn text(&mut self, expression: &str) -> String {
        let value = self.value(expression);
        value
            .as_str()
            .unwrap_or_else(|| panic!("{expression}: {value} is no text"))
            .to_owned()
    }

    /// The time that the page shows, s.
    pub fn time(&mut self) -> f64 {
        self.number("parseFloat(document.getElementById('now').textContent)")
    }

    /// Waits until an expression is true.
    pub fn until(&mut self, expression: &str) {
        let start = Instant::now();
        while self.value(&format!("Boolean({expression})")) != true {
            assert!(start.elapsed() < PATIENCE, "not in time: {expression}");
            std::thread::sleep(Duration::from_millis(20));
        }
    }

    /// Presses and releases a key; modifiers: 1 Alt, 2 Ctrl, 4 Meta, 8 Shift.
    pub fn key(&mut self, key: &str, modifiers: u32) {
        for kind in ["rawKeyDown", "keyUp"] {
            let parameters = json!({"type": kind, "key": key, "modifiers": modifiers});
            self.ask("Input.dispatchKeyEvent", &parameters);
        }
    }

    /// Presses the pointer at the first place, moves it to the others, lets go.
    pub fn drag(&mut self, places: &[(f64, f64)]) {
        let (first, last) = (places[0], places[places.len() - 1]);
        let mut send = |kind: &str, (x, y): (f64, f64)| {
            let parameters = json!({"type": kind, "x": x, "y": y, "button": "left", "buttons": 1, "clickCount": 1});
            self.ask("Input.dispatchMouseEvent", &parameters);
        };
        send("mousePressed", first);
        for place in &places[1..] {
            send("mouseMoved", *place);
        }
        send("mouseReleased", last);
    }

    /// Left, top, width and height of an element, scrolled into view.
    pub fn place(&mut self, selector: &str) -> [f64; 4] {
        let found = self.value(&format!(
            "(() => {{ const e = document.querySelector('{selector}'); e.scrollIntoView({{block: 'center'}}); \
             const b = e.getBoundingClientRect(); return [b.left, b.top, b.width, b.height]; }})()"
        ));
        std::array::from_fn(|i| found[i].as_f64().expect("a place"))
    }

    /// Makes the window so many pixels wide and high, and goes to the page's top.
    pub fn size(&mut self, width: u32, height: u32) {
        let size =
            json!({"width": width, "height": height, "deviceScaleFactor": 1, "mobile": false});
        self.ask("Emulation.setDeviceMetricsOverride", &size);
        self.value("(() => { scrollTo(0, 0); return new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(() => done(1)))); })()");
    }

    /// Left, top, right and bottom of an element in the window, as it lies.
    pub fn edges(&mut self, selector: &str) -> [f64; 4] {
        let found = self.value(&format!(
            "(() => {{ const b = document.querySelector('{selector}').getBoundingClientRect(); \
             return [b.left, b.top, b.right, b.bottom]; }})()"
        ));
        std::array::from_fn(|i| found[i].as_f64().expect("a place"))
    }

    /// Nothing was complained of.
    pub fn content(&mut self) {
        self.value("1");
        assert!(self.complaints.is_empty(), "{:#?}", self.complaints);
    }
}

impl Drop for Browser {
    fn drop(&mut self) {
        // Best effort: the test is over. Closing takes all of the browser's processes along.
        self.session.clear();
        let _ = self
            .to
            .write_all(b"{\"id\":0,\"method\":\"Browser.close\"}\0");
        let start = Instant::now();
        while start.elapsed() < Duration::from_secs(10) {
            if let Ok(Some(_)) = self.child.try_wait() {
                return;
            }
            std::thread::sleep(Duration::from_millis(20));
        }
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// What the browser says, as it comes.
fn reader(path: &Path) -> Receiver<Value> {
    let file = File::open(path).expect("a pipe");
    let (send, receive) = channel();
    std::thread::spawn(move || {
        let mut lines = BufReader::new(file);
        let mut bytes = Vec::new();
        while lines.read_until(0, &mut bytes).is_ok_and(|n| n > 0) {
            bytes.pop();
            let Ok(message) = serde_json::from_slice(&bytes) else {
                return;
            };
            if send.send(message).is_err() {
                return;
            }
            bytes.clear();
        }
    });
    receive
}
