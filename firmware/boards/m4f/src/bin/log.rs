//! The task on a board that plays a script, with its log on the emulator's semihosting output.
//!
//! The script is invented: a still machine is armed, an occupant sits down, the stop circuit opens and closes, a
//! period is skipped, answers come late, an output refuses an answer, the travel sensor falls silent, the
//! operator disarms. Time is the script's own, so that the blocking transport disturbs nothing.
//!
//! Build it alone, from this port's folder, whose `.cargo/config.toml` sets the level of the log:
//!
//! ```text
//! cargo build --release --target thumbv7em-none-eabihf --features log --bin log
//! ```
#![no_std]
#![no_main]

use cortex_m_rt::entry;
use defmt_semihosting as _;
use firmware::{Board, DriveFrame, Marks, Parameters, SensorFrame, Switches, Task};

/// Exit code when the task does not start.
const NOT_STARTED: i32 = 1;
/// Exit code when a table that makes no sense is taken.
const WRONGLY_STARTED: i32 = 2;
/// Exit code of a panic.
const PANIC: i32 = 101;

/// Last period of the script.
const END: u32 = 10_000;

/// The board of the script.
struct Scripted {
    period: u32,
    noise: u32,
    started: bool,
}

impl Scripted {
    /// Noise of an accelerometer, within 4 counts, by xorshift32: without it the sensor counts as stuck.
    fn noise(&mut self) -> i16 {
        self.noise ^= self.noise << 13;
        self.noise ^= self.noise >> 17;
        self.noise ^= self.noise << 5;
        (self.noise & 7) as i16 - 4
    }

    fn switches(&self) -> Switches {
        let on = |mask: u8, on: bool| if on { mask } else { 0 };
        let p = self.period;
        Switches(
            on(Switches::ARM, (200..9500).contains(&p))
                | on(Switches::OCCUPANT, p >= 500)
                | on(Switches::STOP_CIRCUIT, !(2000..2100).contains(&p)),
        )
    }
}

impl Board for Scripted {
    fn sample(&mut self) -> SensorFrame {
        let silent = (8000..8020).contains(&self.period);
        SensorFrame {
            floor_accel: self.noise(),
            seat_accel: self.noise(),
            supply: 4800,
            coil_temperature: 250,
            switches: self.switches(),
            marks: Marks(if silent { Marks::TRAVEL } else { 0 }),
            ..SensorFrame::default()
        }
    }

    fn apply(&mut self, _: &DriveFrame) -> bool {
        let refused = self.period == 7500;
        // These answers take until the next period has begun.
        if self.started && (5000..5008).contains(&self.period) {
            self.period += 1;
        }
        !refused
    }

    fn period(&mut self) -> u32 {
        self.period
    }

    fn refresh_watchdog(&mut self) {}
}

#[entry]
fn main() -> ! {
    let mut board = Scripted {
        period: 0,
        noise: 0x2545_F491,
        started: false,
    };
    let mut senseless: Parameters = *mps2::TABLE.unchecked();
    senseless.timing.step_s = -1.0;
    if Task::<f32>::start(&mut board, &senseless).is_ok() {
        semihosting::process::exit(WRONGLY_STARTED);
    }
    let Ok(mut task) = Task::<f32>::start(&mut board, mps2::TABLE.unchecked()) else {
        semihosting::process::exit(NOT_STARTED)
    };
    board.started = true;
    while board.period < END {
        let begun = board.period;
        task.tick(&mut board);
        // After a late answer the next period has begun already.
        if board.period == begun {
            board.period += if begun == 4500 { 4 } else { 1 };
        }
    }
    defmt::info!("end: {}", task.tally());
    semihosting::process::exit(0)
}

#[panic_handler]
fn panic(_: &core::panic::PanicInfo<'_>) -> ! {
    semihosting::process::exit(PANIC)
}
