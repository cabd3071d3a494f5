//! The current command: duty and word for every count against the stated rule in exact rational
//! arithmetic.

use becalm_tests::drivers::Bus;
use core::num::NonZeroU16;
use embedded_hal::{pwm, spi};
use embedded_hal_mock::eh1::MockError;
use embedded_hal_mock::eh1::pwm::{Mock, Transaction};
use embedded_hal_mock::eh1::spi::{Mock as SpiMock, Transaction as SpiTransaction};
use firmware::drivers::{CurrentCommand, DacCurrent, DacLayout, DriverError, Order, PwmCurrent};
use std::cell::Cell;

fn full(counts: u16) -> NonZeroU16 {
    NonZeroU16::new(counts).expect("not zero")
}

/// `span * counts / full`, to nearest, halves away from zero, within the span. In f64, where all
/// of these numbers and their quotients' halves are exact.
fn rule(counts: i16, span: u16, full: u16) -> i32 {
    let exact = f64::from(span) * f64::from(counts) / f64::from(full);
    (exact.round() as i32).clamp(-i32::from(span), i32::from(span))
}

/// A PWM that keeps its duty.
struct Timer<'a>(u16, &'a Cell<u16>);

impl pwm::ErrorType for Timer<'_> {
    type Error = core::convert::Infallible;
}

impl pwm::SetDutyCycle for Timer<'_> {
    fn max_duty_cycle(&self) -> u16 {
        self.0
    }
    fn set_duty_cycle(&mut self, duty: u16) -> Result<(), Self::Error> {
        assert!(duty <= self.0);
        self.1.set(duty);
        Ok(())
    }
}

#[test]
fn duty_of_every_count() {
    for (top, full_counts) in [
        (4200, 20_000),
        (4201, 20_001),
        (2, 1),
        (65_535, 32_767),
        (65_534, 65_535),
        (1000, 7),
    ] {
        for inverted in [false, true] {
            let duty = Cell::new(0);
            let mut driver = PwmCurrent::new(Timer(top, &duty), full(full_counts), inverted);
            let half = top / 2;
            for counts in i16::MIN..=i16::MAX {
                driver.set(counts).expect("a duty");
                let steps = rule(counts, half, full_counts);
                let expected = i32::from(half) + if inverted { -steps } else { steps };
                assert_eq!(
                    i32::from(duty.get()),
                    expected,
                    "{counts} of {full_counts}, {top}"
                );
            }
        }
    }
}

#[test]
fn zero_is_half_and_full_is_the_end() {
    let traffic = [0, 2500, 5000, 5000].map(Transaction::set_duty_cycle);
    let mut all = Vec::new();
    for one in traffic {
        all.extend([Transaction::max_duty_cycle(5000), one]);
    }
    let mut driver = PwmCurrent::new(Mock::new(&all), full(10_000), false);
    for counts in [-10_000, 0, 10_000, 32_767] {
        driver.set(counts).expect("a duty");
    }
    driver.release().done();
}

#[test]
fn pwm_errors() {
    let traffic = [
        Transaction::max_duty_cycle(5000),
        Transaction::set_duty_cycle(2500).with_error(MockError::Io(std::io::ErrorKind::TimedOut)),
        Transaction::max_duty_cycle(1),
    ];
    let mut driver = PwmCurrent::new(Mock::new(&traffic), full(100), false);
    let error = Err(DriverError::Pwm(pwm::ErrorKind::Other));
    assert_eq!(driver.set(0), error);
    // A timer without a middle.
    assert_eq!(driver.set(0), error);
    driver.release().done();
}

const DAC: DacLayout = DacLayout {
    word_bytes: 3,
    order: Order::MostFirst,
    fixed: 0x30_0000,
    shift: 4,
    bits: 16,
    full_counts: NonZeroU16::MAX,
    inverted: false,
};

#[test]
fn words_on_the_bus() {
    let layout = DacLayout {
        full_counts: full(16_384),
        ..DAC
    };
    let mut traffic = Vec::new();
    for bytes in [
        [0x38, 0x00, 0x00], // 0: half
        [0x3C, 0x00, 0x00], // half of full, up
        [0x34, 0x00, 0x00], // and down
        [0x3F, 0xFF, 0xF0], // full: one short of the end
        [0x30, 0x00, 0x00], // full down
    ] {
        traffic.extend([
            SpiTransaction::transaction_start(),
            SpiTransaction::write_vec(bytes.to_vec()),
            SpiTransaction::transaction_end(),
        ]);
    }
    let mut driver = DacCurrent::new(SpiMock::new(&traffic), layout).expect("a layout");
    for counts in [0, 8192, -8192, i16::MAX, i16::MIN] {
        driver.set(counts).expect("a word");
    }
    driver.release().done();
}

#[test]
fn code_of_every_count() {
    for (bits, shift, order, inverted, full_counts) in [
        (12, 0, Order::LeastFirst, false, 20_000),
        (12, 2, Order::MostFirst, true, 20_001),
        (16, 0, Order::MostFirst, false, 32_768),
        (4, 12, Order::LeastFirst, true, 3),
    ] {
        let layout = DacLayout {
            word_bytes: 2,
            order,
            fixed: 0,
            shift,
            bits,
            full_counts: full(full_counts),
            inverted,
        };
        let sent = Cell::new(0);
        let bus = Bus(|out: &[u8], _| {
            let bytes = out.try_into().expect("two bytes");
            sent.set(match order {
                Order::MostFirst => u16::from_be_bytes(bytes),
                Order::LeastFirst => u16::from_le_bytes(bytes),
            });
            Ok(vec![])
        });
        let mut driver = DacCurrent::new(bus, layout).expect("a layout");
        let half = 1 << (bits - 1);
        for counts in i16::MIN..=i16::MAX {
            driver.set(counts).expect("a word");
            let steps = rule(counts, half, full_counts);
            let steps = if inverted { -steps } else { steps };
            let code = (i32::from(half) + steps).min(2 * i32::from(half) - 1);
            assert_eq!(i32::from(sent.get()), code << shift, "{counts} {bits}");
        }
    }
}

#[test]
fn dac_errors() {
    let mut driver =
        DacCurrent::new(Bus(|_: &[u8], _| Err(spi::ErrorKind::Other)), DAC).expect("a layout");
    assert_eq!(driver.set(5), Err(DriverError::Spi(spi::ErrorKind::Other)));
    for (layout, field) in [
        (
            DacLayout {
                word_bytes: 0,
                ..DAC
            },
            "word_bytes",
        ),
        (
            DacLayout {
                word_bytes: 5,
                ..DAC
            },
            "word_bytes",
        ),
        (
            DacLayout {
                word_bytes: 2,
                ..DAC
            },
            "bits",
        ),
        (DacLayout { bits: 17, ..DAC }, "bits"),
        (DacLayout { shift: 255, ..DAC }, "bits"),
        (DacLayout { fixed: 0x10, ..DAC }, "fixed"),
        (
            DacLayout {
                fixed: 0x0100_0000,
                ..DAC
            },
            "fixed",
        ),
    ] {
        let error = DacCurrent::new(Bus(|_: &[u8], _| Ok(vec![])), layout).map(|_| ());
        assert_eq!(error.expect_err(field).field, format!("dac.{field}"));
    }
}
