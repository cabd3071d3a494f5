//! Numbers as counts of 16 bits in base64, with a stated resolution.

/// Largest count to either side.
const MOST: f64 = 32_767.0;
/// The count that stands for no value.
pub const MISSING: i16 = i16::MIN;
/// No resolution is finer, in the unit of the signal.
const FINEST: f64 = 1.0e-7;

/// The unit's worth of one count: the smallest of 1, 2 and 5 times a power of ten with which every value up to
/// `peak` can be told.
#[must_use]
pub fn resolution(peak: f64) -> f64 {
    let wanted = if peak.is_finite() {
        (peak.abs() / MOST).max(FINEST)
    } else {
        1.0
    };
    let decade = wanted.log10().floor() as i32;
    (decade - 1..=decade + 1)
        .flat_map(|power| [1.0, 2.0, 5.0].map(|digit| decimal(digit, power)))
        .find(|&step| step >= FINEST && step * MOST >= peak.abs())
        .unwrap_or(wanted)
}

/// `digit` times ten to the `power`, as the decimal text would be read.
fn decimal(digit: f64, power: i32) -> f64 {
    format!("{digit}e{power}").parse().unwrap_or(f64::NAN)
}

/// The count nearest to a value; [`MISSING`] when it is not finite.
#[must_use]
pub fn count(value: f64, resolution: f64) -> i16 {
    if value.is_finite() {
        (value / resolution).round().clamp(-MOST, MOST) as i16
    } else {
        MISSING
    }
}

/// Counts as bytes, the low byte first, in base64 (RFC 4648, section 4).
#[must_use]
pub fn text(counts: impl Iterator<Item = i16>) -> String {
    let bytes: Vec<u8> = counts.flat_map(i16::to_le_bytes).collect();
    base64(&bytes)
}

/// Base64 with padding.
#[must_use]
pub fn base64(bytes: &[u8]) -> String {
    const LETTERS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut out = String::with_capacity(bytes.len().div_ceil(3) * 4);
    for chunk in bytes.chunks(3) {
        let mut three = [0; 3];
        three[..chunk.len()].copy_from_slice(chunk);
        let word = u32::from_be_bytes([0, three[0], three[1], three[2]]);
        for place in 0..4 {
            let letter = LETTERS[(word >> (18 - 6 * place)) as usize & 63];
            out.push(if place <= chunk.len() {
                char::from(letter)
            } else {
                '='
            });
        }
    }
    out
}
