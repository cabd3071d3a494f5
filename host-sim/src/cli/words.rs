//! Numbers and times as text.

/// Three digits that count; plain decimals.
pub(super) fn number(x: f64) -> String {
    let size = x.abs();
    if !x.is_finite() {
        "-".to_owned()
    } else if size >= 99.95 || size == 0.0 {
        format!("{x:.0}")
    } else if size >= 9.995 {
        format!("{x:.1}")
    } else if size >= 0.9995 {
        format!("{x:.2}")
    } else if size >= 0.000_95 {
        format!("{x:.3}")
    } else {
        format!("{x:.1e}")
    }
}

/// Time in the day until a daily value is reached.
pub(super) fn daily_time(seconds: Option<f64>) -> String {
    match seconds {
        None => "never".to_owned(),
        Some(s) if s > 86_400.0 => "over 24 h".to_owned(),
        Some(s) if s >= 3600.0 => {
            let minutes = (s / 60.0).floor();
            format!("{} h {:02} min", (minutes / 60.0).floor(), minutes % 60.0)
        }
        Some(s) if s >= 60.0 => format!("{} min", (s / 60.0).floor()),
        Some(s) => format!("{} s", number(s)),
    }
}

/// Text in lines of at most `width`, each after `indent`.
pub(super) fn wrap(text: &str, indent: &str, width: usize) -> String {
    let mut lines = String::new();
    let mut line = String::new();
    for word in text.split_whitespace() {
        let used = indent.len() + line.chars().count();
        if !line.is_empty() && used + 1 + word.chars().count() > width {
            lines += &format!("{indent}{line}\n");
            line.clear();
        }
        if !line.is_empty() {
            line.push(' ');
        }
        line += word;
    }
    if !line.is_empty() {
        lines += &format!("{indent}{line}\n");
    }
    lines
}

/// Like [`wrap`], with `label` in front of the first line.
pub(super) fn labelled(label: &str, text: &str, width: usize) -> String {
    let indent = " ".repeat(label.len());
    wrap(text, &indent, width).replacen(&indent, label, 1)
}
