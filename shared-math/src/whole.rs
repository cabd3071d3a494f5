//! Division and square root of wide whole numbers by what a small core has: 32-bit division.
//!
//! The core library's own, for any 64-bit numbers, are several times as large and slower where there is no 64-bit division. Both are
//! textbook algorithms (D. E. Knuth, The Art of Computer Programming 2, section 4.3.1, algorithm D; the root by P. Zimmermann,
//! Karatsuba Square Root, INRIA RR-3805, from memory) and give what the core library gives.

/// `dividend / divisor`, rounded down, for quotients below 2^32; of larger ones the lowest 32 bits are not to be used. 0 for a
/// divisor of 0.
#[must_use]
pub const fn divide(dividend: u64, divisor: u32) -> u32 {
    if divisor == 0 {
        return 0;
    }
    // The divisor's highest bit is set, so that an estimate by its upper half is at most two too large.
    let shift = divisor.leading_zeros();
    let divisor = divisor << shift;
    let dividend = dividend << shift;
    let low = dividend as u32;
    let (upper, rest) = digit((dividend >> 32) as u32, low >> 16, divisor);
    let (lower, _) = digit(rest, low & 0xFFFF, divisor);
    upper << 16 | lower
}

/// The next 16 bits of a quotient: of `rest * 2^16 + next` by the divisor, and what remains.
const fn digit(rest: u32, next: u32, divisor: u32) -> (u32, u32) {
    let (high, low) = (divisor >> 16, divisor & 0xFFFF);
    let mut found = match rest.checked_div(high) {
        Some(found) if found < 0xFFFF => found,
        _ => 0xFFFF,
    };
    let mut left = rest.wrapping_sub(found * high);
    while left <= 0xFFFF && found.wrapping_mul(low) > (left << 16 | next) {
        found = found.wrapping_sub(1);
        left += high;
    }
    let remainder = (rest << 16 | next).wrapping_sub(found.wrapping_mul(divisor));
    (found, remainder)
}

/// The square root, rounded down.
#[must_use]
pub const fn root(x: u64) -> u32 {
    if x == 0 {
        return 0;
    }
    // An even shift, after which one of the two highest bits is set.
    let shift = x.leading_zeros() & !1;
    let wide = x << shift;
    let upper = (wide >> 32) as u32;
    let high = short_root(upper);
    let remainder = (upper - high * high) as u64;
    // Half of the numerator by half of the divisor.
    let half = (remainder << 15 | wide >> 17 & 0x7FFF) as u32;
    let low = match half.checked_div(high) {
        Some(low) if low < 0xFFFF => low,
        _ => 0xFFFF,
    };
    let found = high << 16 | low;
    let too_large = found as u64 * found as u64 > wide;
    (found - too_large as u32) >> (shift >> 1)
}

/// The correctly rounded square root of a number in single precision, zero or above; what is not finite comes back as it is, what
/// is below the smallest normal number gives 0.
#[must_use]
pub fn root_f32(x: f32) -> f32 {
    const FRACTION: u32 = 23;
    let bits = x.to_bits();
    let exponent = bits >> FRACTION;
    if exponent == 0 || exponent >= 0xFF {
        return if exponent == 0 { 0.0 } else { x };
    }
    // x = whole * 2^(exponent - 150); with one or two bits more the power of two is even, and the root, 24 bits further up, has 25:
    // one more than are kept. It is never halfway between two, for its square would be odd.
    let more = 2 - (exponent & 1);
    let whole = u64::from(bits & 0x007F_FFFF | 0x0080_0000) << more;
    let kept = (root(whole << 24) + 1) >> 1;
    let half_power = (exponent + 128 - more) >> 1;
    f32::from_bits((half_power << FRACTION) + (kept - 0x0080_0000))
}

/// The square root of a short number, rounded down, bit by bit.
const fn short_root(x: u32) -> u32 {
    let (mut root, mut bit) = (0_u32, 1_u32 << 15);
    while bit != 0 {
        let tried = root | bit;
        if tried * tried <= x {
            root = tried;
        }
        bit >>= 1;
    }
    root
}
