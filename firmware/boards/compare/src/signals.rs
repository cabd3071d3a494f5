//! Inputs, invented: noise and slow triangles, made of integers so that every machine has the same.

use crate::measure::SAMPLES;

/// Noise within +-1 upon a triangle of +-1.
pub fn noise() -> [f32; SAMPLES] {
    let mut source = Source(0x2545_F491);
    core::array::from_fn(|n| 0.5 * source.next() + 0.5 * triangle(n, 250))
}

/// A unit step from the first sample on.
pub const STEP: [f32; SAMPLES] = [1.0; SAMPLES];

/// Accelerations of floor and seat, m/s^2, and travel, m.
pub fn ride() -> [[f32; 3]; SAMPLES] {
    let mut source = Source(0x9E37_79B9);
    core::array::from_fn(|n| {
        [
            2.0 * triangle(n, 400) + 0.3 * source.next(),
            0.8 * triangle(n + 60, 400) + 0.3 * source.next(),
            0.02 * triangle(n + 200, 400) + 0.0002 * source.next(),
        ]
    })
}

/// A triangle of +-1 with the given period in samples.
fn triangle(n: usize, period: usize) -> f32 {
    let phase = (n % period) as f32 / period as f32;
    let rise = 4.0 * phase - 1.0;
    if phase < 0.5 { rise } else { 2.0 - rise }
}

/// A xorshift generator.
struct Source(u32);

impl Source {
    /// Within +-1.
    fn next(&mut self) -> f32 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 17;
        self.0 ^= self.0 << 5;
        (self.0 >> 8) as f32 * (2.0 / 16_777_216.0) - 1.0
    }
}
