//! The current command to the output stage: the duty of a PWM, or the word of a converter on SPI.
//!
//! Counts are those of the drive frame: the scale of the current sensor (`calibrate.current`),
//! whatever the output stage takes. The rule of both ways: `span * counts / full_counts`, rounded
//! to the nearest step, halves away from zero, held within the span; so that equal currents up
//! and down differ by the sign alone, and 0 is exactly the middle.

use super::error::{from_pwm, from_spi};
use super::{DriverError, Order};
use crate::check::{BuildError, require};
use core::num::NonZeroU16;
use embedded_hal::pwm::{self, SetDutyCycle};
use embedded_hal::spi::SpiDevice;

/// Where the current command goes.
pub trait CurrentCommand {
    /// Commands a current, counts, positive lifts the seat. Saturates.
    ///
    /// # Errors
    /// When the command may not have reached the output stage. Which current is commanded then is
    /// not known.
    fn set(&mut self, counts: i16) -> Result<(), DriverError>;

    /// Current of the full command, counts.
    fn full_counts(&self) -> NonZeroU16;

    /// Tells an output stage that is disabled and brakes how much of its brake resistor to bridge: `share` of
    /// 32767, as the share of the full command. Which way it points does not matter.
    ///
    /// # Errors
    /// As [`CurrentCommand::set`].
    fn brake(&mut self, share: i16) -> Result<(), DriverError> {
        let full = i32::from(self.full_counts().get().min(i16::MAX.unsigned_abs()));
        let counts = i32::from(share.max(0)) * full / i32::from(i16::MAX);
        // No more than the full command, which fits.
        self.set(counts as i16)
    }
}

/// Steps of `span` (at most 32768) for `counts`, by the rule of this file.
fn steps(counts: i16, span: u32, full_counts: NonZeroU16) -> i32 {
    let full = core::num::NonZeroU32::from(full_counts);
    let product = u32::from(counts.unsigned_abs()).saturating_mul(span);
    let size = (product.saturating_add(full.get() / 2) / full).min(span) as i32;
    if counts < 0 { -size } else { size }
}

/// The command as the duty of a PWM: half is 0 A.
///
/// Offset binary, common practice, no source: an output stage that sees no pulses any more sees
/// full current, not zero, so it must have an enable input of its own and watch for pulses.
///
/// With `M` the timer's largest duty, 0 A is the duty `M / 2` (rounded down), full current is 0 or
/// `2 (M / 2)`. Choose an even `M`: with an odd one the middle is off by half a step.
#[derive(Clone, Debug)]
pub struct PwmCurrent<P> {
    pwm: P,
    full_counts: NonZeroU16,
    inverted: bool,
}

impl<P: SetDutyCycle> PwmCurrent<P> {
    /// A driver that has not touched its PWM yet. `full_counts` is the current of full duty, in
    /// counts of the current sensor; `inverted`: a lower duty lifts the seat.
    pub const fn new(pwm: P, full_counts: NonZeroU16, inverted: bool) -> Self {
        Self {
            pwm,
            full_counts,
            inverted,
        }
    }

    /// Gives the PWM back.
    pub fn release(self) -> P {
        self.pwm
    }
}

impl<P: SetDutyCycle> CurrentCommand for PwmCurrent<P> {
    /// A timer whose largest duty is below 2 has no middle, which is an error.
    fn set(&mut self, counts: i16) -> Result<(), DriverError> {
        let half = self.pwm.max_duty_cycle() / 2;
        if half == 0 {
            return Err(DriverError::Pwm(pwm::ErrorKind::Other));
        }
        let steps = steps(counts, half.into(), self.full_counts);
        let duty = i32::from(half).saturating_add(if self.inverted { -steps } else { steps });
        // Within 0 and 2 half, which fits.
        self.pwm.set_duty_cycle(duty as u16).map_err(from_pwm)
    }

    fn full_counts(&self) -> NonZeroU16 {
        self.full_counts
    }
}

/// Word of a digital-to-analog converter on SPI. Offset binary: half of the range is 0 A.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DacLayout {
    /// Length of the word, bytes, 1 to 4.
    pub word_bytes: u8,
    /// Order of the word's bytes.
    pub order: Order,
    /// Bits that are always set: command, channel, address.
    pub fixed: u32,
    /// Bits of the word below the code, 0 to 24.
    pub shift: u8,
    /// Width of the code, bits, 4 to 16.
    pub bits: u8,
    /// Current of full code, counts of the current sensor.
    pub full_counts: NonZeroU16,
    /// A lower code lifts the seat.
    pub inverted: bool,
}

/// The command as the word of a converter. One transfer a period.
///
/// The code is `2^(bits-1)` for 0 A; full current upward is one step short of the range's end, as
/// the range has no code for it.
#[derive(Clone, Debug)]
pub struct DacCurrent<B> {
    bus: B,
    layout: DacLayout,
}

impl<B: SpiDevice> DacCurrent<B> {
    /// A driver that has not touched its bus yet.
    ///
    /// # Errors
    /// When the layout cannot be; the error names the field.
    pub fn new(bus: B, layout: DacLayout) -> Result<Self, BuildError> {
        require(
            (1..=4).contains(&layout.word_bytes),
            "dac.word_bytes",
            f32::from(layout.word_bytes),
            "1 to 4 bytes",
        )?;
        let word_bits = layout.word_bytes.saturating_mul(8);
        require(
            (4..=16).contains(&layout.bits)
                && layout.shift <= 24
                && layout.shift.saturating_add(layout.bits) <= word_bits,
            "dac.bits",
            f32::from(layout.bits),
            "4 to 16 bits within the word",
        )?;
        let code = u64::from(u16::MAX) >> 16_u8.saturating_sub(layout.bits) << layout.shift;
        require(
            u64::from(layout.fixed) >> word_bits == 0 && u64::from(layout.fixed) & code == 0,
            "dac.fixed",
            layout.fixed as f32,
            "bits of the word beside the code",
        )?;
        Ok(Self { bus, layout })
    }

    /// Gives the bus back.
    pub fn release(self) -> B {
        self.bus
    }
}

impl<B: SpiDevice> CurrentCommand for DacCurrent<B> {
    fn set(&mut self, counts: i16) -> Result<(), DriverError> {
        let layout = &self.layout;
        let half = 1_u32
            .checked_shl(u32::from(layout.bits).saturating_sub(1))
            .unwrap_or(0);
        let steps = steps(counts, half, layout.full_counts);
        let steps = if layout.inverted { -steps } else { steps };
        let top = half.saturating_mul(2).saturating_sub(1);
        let code = half.saturating_add_signed(steps).min(top);
        let word = layout.fixed | code.checked_shl(layout.shift.into()).unwrap_or(0);
        let (bytes, length) = layout.order.split(word, layout.word_bytes);
        self.bus
            .write(bytes.get(..length).unwrap_or_default())
            .map_err(from_spi)
    }

    fn full_counts(&self) -> NonZeroU16 {
        self.layout.full_counts
    }
}
