//! Where what is told differs from what was expected, field by field and with every digit.

use serde_json::Value;

/// So many differences are told of one thing; the others are counted.
const TOLD: usize = 3;

/// What differs between `known` and `again`, in one sentence; none when they are the same.
#[must_use]
pub(super) fn differences(known: &Value, again: &Value) -> Option<String> {
    let mut found = Vec::new();
    walk(String::new(), Some(known), Some(again), &mut found);
    let more = found.len().saturating_sub(TOLD);
    found.truncate(TOLD);
    (!found.is_empty()).then(|| {
        found.join("; ")
            + &if more > 0 {
                format!("; and {more} more")
            } else {
                String::new()
            }
    })
}

fn walk(at: String, known: Option<&Value>, again: Option<&Value>, found: &mut Vec<String>) {
    let inner = |name: &str| {
        if at.is_empty() {
            name.to_owned()
        } else {
            format!("{at}.{name}")
        }
    };
    match (known, again) {
        (Some(known), Some(again)) if known == again => {}
        (Some(Value::Object(known)), Some(Value::Object(again))) => {
            for (name, value) in again {
                walk(inner(name), known.get(name), Some(value), found);
            }
            for (name, value) in known.iter().filter(|(name, _)| !again.contains_key(*name)) {
                walk(inner(name), Some(value), None, found);
            }
        }
        (Some(Value::Array(known)), Some(Value::Array(again))) if known.len() == again.len() => {
            for (n, (known, again)) in known.iter().zip(again).enumerate() {
                walk(format!("{at}[{n}]"), Some(known), Some(again), found);
            }
        }
        (Some(known), Some(again)) => found.push(format!("{at}: {known}: expected {again}")),
        (None, Some(again)) => found.push(format!("{at}: missing: expected {again}")),
        (Some(known), None) => found.push(format!("{at}: {known}: expected no such field")),
        (None, None) => {}
    }
}

/// Where two texts part: line and what stands there on either side; none when they are the same.
#[must_use]
pub(super) fn parting(known: &str, again: &str) -> Option<String> {
    const SHOWN: usize = 60;
    if known == again {
        return None;
    }
    let same = known
        .char_indices()
        .zip(again.chars())
        .find(|((_, a), b)| a != b)
        .map_or_else(|| known.len().min(again.len()), |((at, _), _)| at);
    let line = known[..same].matches('\n').count() + 1;
    // A little before it, so that a reader finds the place.
    let from = known[..same]
        .char_indices()
        .rev()
        .take(SHOWN / 3)
        .take_while(|(_, c)| *c != '\n')
        .last()
        .map_or(same, |(at, _)| at);
    let shown = |text: &str| {
        let rest: String = text[from..].chars().take(SHOWN).collect();
        rest.split('\n').next().unwrap_or_default().to_owned()
    };
    Some(format!(
        "{line}: `{}`: expected `{}`",
        shown(known),
        shown(again)
    ))
}
