//! One machine between the plant and the firmware: its hidden errors, what its sensors see, what its drive does.

use crate::plant::{Drive, Plant};
use crate::rig::Rig;
use crate::sensors::{Chance, Truth};
use firmware::DriveFrame;

/// In what one machine differs from what its firmware was told.
#[derive(Clone, Copy, Debug)]
pub struct MachineErrors {
    /// Force constant, share.
    pub force: f64,
    /// Rate of the height adjuster, share.
    pub level: f64,
    /// Preload of the support spring, N.
    pub preload_n: f64,
}

impl MachineErrors {
    /// Draws the errors of a rig's machine. It takes the generator's first three values, so that a seed is one
    /// machine wherever it is drawn.
    pub(crate) fn draw(rig: &Rig, chance: &mut Chance) -> Self {
        Self {
            force: rig.actuator.force_constant_error * chance.sign(),
            level: rig.spring.level_rate_error * chance.even(),
            preload_n: rig.spring.preload_error_n * chance.even(),
        }
    }
}

impl Truth {
    /// What the sensors of a plant would show without their errors, on a floor of `floor_accel` m/s^2.
    #[must_use]
    pub const fn of(plant: &Plant, floor_accel: f64) -> Self {
        Self {
            floor_accel,
            seat_accel: plant.seat_accel(),
            travel: plant.travel(),
            current: plant.current(),
            supply: plant.bus_voltage(),
            coil_c: plant.temperatures()[0],
        }
    }
}

impl Drive {
    /// What a machine's drive makes of an answer. It gives no more than its rated current, whatever is asked.
    #[must_use]
    pub fn of(answer: &DriveFrame, rig: &Rig) -> Self {
        if answer.has(DriveFrame::ENABLE) {
            let most = rig.actuator.current_max_a;
            let asked = f64::from(answer.current_command) * rig.sensors.current.per_count;
            Self::Current(asked.clamp(-most, most))
        } else if answer.has(DriveFrame::DAMP) {
            let share = f64::from(answer.current_command.max(0)) / f64::from(i16::MAX);
            Self::Braked((1.0 - share) * rig.actuator.brake_ohm)
        } else {
            Self::Open
        }
    }
}

/// What the height adjuster is told: +1, 0 or -1.
#[must_use]
pub fn adjuster(answer: &DriveFrame) -> i8 {
    i8::from(answer.has(DriveFrame::LEVEL_UP)) - i8::from(answer.has(DriveFrame::LEVEL_DOWN))
}
