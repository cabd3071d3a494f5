//! The fixed-rate task: the safe state first, overruns and skipped periods counted and borne up to the
//! stated number, the watchdog refreshed only in time, errors of the board as faults of the law.
//! The rules are our own, stated in the documentation of the task and of the board trait.

use firmware::{
    Board, DriveFrame, Fault, Faults, Marks, Mode, Parameters, SensorFrame, Switches, Tally, Task,
    WATCHDOG_PERIODS,
};
use host_sim::design;
use host_sim::limits::constant;
use host_sim::rig::Rig;

fn parameters() -> Parameters {
    design::parameters(&Rig::default_machine().expect("the default rig")).expect("parameters")
}

/// A still, healthy machine, armed after its first sample, whose current follows its command; whose clock, sensors and outputs fail as told.
struct Bench {
    period: u32,
    /// Periods that pass while the next step runs.
    takes: u32,
    failing: Marks,
    refuses: bool,
    sampled: bool,
    put_out: Vec<DriveFrame>,
    refreshes: u32,
    noise: u64,
}

impl Bench {
    fn new() -> Self {
        Self {
            period: 65_000,
            takes: 0,
            failing: Marks::default(),
            refuses: false,
            sampled: false,
            put_out: Vec::new(),
            refreshes: 0,
            noise: 0x9E37_79B9_7F4A_7C15,
        }
    }

    fn noise(&mut self) -> i16 {
        self.noise ^= self.noise >> 12;
        self.noise ^= self.noise << 25;
        self.noise ^= self.noise >> 27;
        ((self.noise.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 40) % 11) as i16 - 5
    }
}

impl Board for Bench {
    fn sample(&mut self) -> SensorFrame {
        let driven = |drive: &&DriveFrame| drive.has(DriveFrame::ENABLE);
        let current = self.put_out.last().filter(driven);
        let arm = if core::mem::replace(&mut self.sampled, true) {
            Switches::ARM
        } else {
            0
        };
        SensorFrame {
            current: current.map_or(0, |drive| drive.current_command),
            floor_accel: self.noise(),
            seat_accel: self.noise(),
            supply: 4800,
            coil_temperature: 250,
            switches: Switches(arm | Switches::OCCUPANT | Switches::STOP_CIRCUIT),
            marks: self.failing,
            ..SensorFrame::default()
        }
    }
    fn apply(&mut self, drive: &DriveFrame) -> bool {
        self.put_out.push(*drive);
        if self.put_out.len() > 1 {
            self.period = self.period.wrapping_add(self.takes);
        }
        !self.refuses
    }
    fn period(&mut self) -> u32 {
        self.period
    }
    fn refresh_watchdog(&mut self) {
        self.refreshes += 1;
    }
}

fn tick(task: &mut Task<f32>, bench: &mut Bench) -> DriveFrame {
    let drive = task.tick(bench);
    bench.period = bench.period.wrapping_add(1);
    drive
}

/// A task that isolates.
fn active() -> (Task<f32>, Bench) {
    let mut bench = Bench::new();
    let mut task = Task::start(&mut bench, &parameters()).expect("a task");
    for _ in 0..3000 {
        tick(&mut task, &mut bench);
    }
    assert_eq!(task.cycle().mode(), Mode::Active);
    assert_eq!(task.tally(), Tally::default());
    (task, bench)
}

#[test]
fn the_safe_state_comes_first() {
    let mut bench = Bench::new();
    Task::<f32>::start(&mut bench, &parameters()).expect("a task");
    let first = bench.put_out[0];
    assert_eq!(first.outputs, DriveFrame::DAMP);
    assert_eq!(
        (first.current_command, first.mode),
        (0, Mode::Damped.code())
    );
    // Also when the parameters cannot be used.
    let mut bad = parameters();
    bad.timing.step_s = f32::NAN;
    let mut bench = Bench::new();
    let error = Task::<f32>::start(&mut bench, &bad).expect_err("not a time");
    assert_eq!(error.field, "timing.step_s");
    assert_eq!(bench.put_out, [DriveFrame::SAFE]);
    assert_eq!(bench.refreshes, 0);
}

/// So that the watchdog bites after as many periods as its contract says.
// Demonstrates: watchdog
#[test]
fn the_watchdog_is_refreshed_once_a_period_and_only_in_time() {
    assert_eq!(f64::from(WATCHDOG_PERIODS), constant::WATCHDOG);
    let (mut task, mut bench) = active();
    let before = bench.refreshes;
    assert_eq!(before, 3000);
    for n in 0..100 {
        bench.takes = u32::from(n % 2 == 0);
        tick(&mut task, &mut bench);
    }
    assert_eq!(bench.refreshes, before + 50);
}

/// Single late answers are counted and borne; a row of them ends in the safe state after as many as stated, once the
/// current has been led to zero.
/// A late answer eats the next period, which is skipped then.
#[test]
fn late_answers() {
    let strikes = parameters().vet.late_strikes;
    let (mut task, mut bench) = active();
    for _ in 0..20 {
        bench.takes = 1;
        tick(&mut task, &mut bench);
        bench.takes = 0;
        for _ in 0..2 * parameters().vet.forgive_steps {
            tick(&mut task, &mut bench);
        }
    }
    assert_eq!(task.cycle().mode(), Mode::Active);
    assert_eq!((task.tally().late, task.tally().skipped), (20, 20));

    bench.takes = 1;
    let mut borne = 0;
    while tick(&mut task, &mut bench).mode == Mode::Active.code() {
        borne += 1;
    }
    assert_eq!(borne, strikes);
    let last = bench.put_out.last().expect("an answer");
    assert_eq!(last.mode, Mode::Release.code());
    assert!(Faults(last.faults).has(Fault::Late), "{last:?}");
    let p = parameters();
    let release = (p.supervise.release_s / p.timing.step_s).round() as u32;
    for _ in 0..release {
        assert_eq!(tick(&mut task, &mut bench).mode, Mode::Release.code());
    }
    let last = tick(&mut task, &mut bench);
    assert!(
        Faults(last.faults).has(Fault::Late)
            && last.mode == Mode::Damped.code()
            && last.outputs == DriveFrame::DAMP,
        "{last:?}"
    );
}

/// An answer that comes late without eating a period's start is late all the same.
#[test]
fn periods_skipped() {
    let strikes = parameters().vet.sequence_strikes;
    let (mut task, mut bench) = active();
    let mut borne = 0;
    bench.period += 3;
    while tick(&mut task, &mut bench).mode == Mode::Active.code() {
        bench.period += 3;
        borne += 1;
    }
    assert_eq!(borne, strikes - 1);
    assert_eq!(task.tally().skipped, 3 * strikes);
    assert!(Faults(bench.put_out.last().expect("an answer").faults).has(Fault::Sequence));
}

/// Every mark of a sensor becomes that sensor's fault, after the stated number of bad readings, and is counted.
#[test]
fn driver_errors_are_sensor_faults() {
    let p = parameters().vet;
    for (mark, fault, then) in [
        (Marks::FLOOR_ACCEL, Fault::FloorAccel, Mode::Limp),
        (Marks::SEAT_ACCEL, Fault::SeatAccel, Mode::Limp),
        (Marks::TRAVEL, Fault::Travel, Mode::Settle),
        (Marks::CURRENT, Fault::Current, Mode::Limp),
        (Marks::SUPPLY, Fault::Supply, Mode::Settle),
        (
            Marks::COIL_TEMPERATURE,
            Fault::CoilTemperature,
            Mode::Release,
        ),
    ] {
        let (mut task, mut bench) = active();
        bench.failing = Marks(mark);
        for n in 1..=p.fault_steps {
            let drive = tick(&mut task, &mut bench);
            assert_eq!(
                Faults(drive.faults).has(fault),
                n == p.fault_steps,
                "{fault:?} {n}"
            );
            let mode = if n < p.fault_steps {
                Mode::Active
            } else {
                then
            };
            assert_eq!(drive.mode, mode.code(), "{fault:?} {n}");
            assert_eq!(
                drive.has(DriveFrame::ENABLE),
                mode.drives(),
                "{fault:?} {n}"
            );
        }
        assert_eq!(task.tally().sensor_errors, p.fault_steps);
    }
}

#[test]
fn outputs_that_are_not_reached() {
    let p = parameters().vet;
    let (mut task, mut bench) = active();
    bench.refuses = true;
    let mut borne = 0;
    while tick(&mut task, &mut bench).mode == Mode::Active.code() {
        borne += 1;
    }
    assert_eq!(borne, p.fault_steps);
    assert_eq!(task.cycle().mode(), Mode::Fault);
    assert_eq!(task.tally().output_errors, p.fault_steps + 1);
}
