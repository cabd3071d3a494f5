//! Whatever comes in, what goes out is finite and within limits.
//!
//! Everything that the law knows is taken as any number of its arithmetic, infinities and no
//! numbers included: what was measured, estimated, forecast, wanted and kept from earlier steps. The
//! firmware's last two decisions are evaluated on all of it at once in interval arithmetic.

use super::interval::{Interval, Rounding};
use crate::rig::Rig;
use firmware::BuildError;
use firmware::arrest::Ahead;
use serde::{Deserialize, Serialize};
use shared_math::Scalar;

/// What outward rounding may add to a limit, share.
pub const OUTWARD_SHARE: f64 = 1.0e-6;

/// What the answers are bounded by, in one arithmetic.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Answers {
    /// Whether acceleration and current are finite and within their limits, whatever comes in.
    pub hold: bool,
    /// Largest acceleration that is ever permitted, m/s^2.
    pub accel_mps2: f64,
    /// Largest current that is ever asked for, A.
    pub current_a: f64,
}

/// Bounds of all answers of a rig's firmware.
///
/// # Errors
/// When a parameter cannot be used.
pub fn answers<R: Rounding>(rig: &Rig) -> Result<Answers, BuildError> {
    let timing = &rig.firmware.timing;
    let any = Interval::<R>::anything();

    let arrest = rig.firmware.arrest.build::<Interval<R>>(timing)?;
    let (lower, upper) = arrest.limits(&Ahead {
        travel: any,
        travel_rate: any,
        floor_accel: any,
    });
    let permitted = any.limit(lower, upper);

    let limit = rig.firmware.limit.build::<Interval<R>>(timing)?;
    // What is asked for is finite: the stage replaces what is not. The last answer is one of
    // these: within the winding's limit, by what is shown here.
    let most = f64::from(rig.firmware.limit.current_max_a);
    let finite = Interval::new(R::down(-f64::from(f32::MAX)), R::up(f64::from(f32::MAX)));
    let last = Interval::new(-most, most);
    let coil = limit.coil(any);
    let slew = Interval::new(0.0, 2.0 * most);
    let current = limit.permitted_current(finite, last, slew, any, any, &coil);

    let accel_most = f64::from(rig.firmware.arrest.accel_max_mps2);
    let size = |x: &Interval<R>| x.lo().abs().max(x.hi().abs());
    // Outward rounding itself adds a little: far less than a count of the current.
    let (accel_limit, current_limit) = (
        accel_most * (1.0 + OUTWARD_SHARE),
        most * (1.0 + OUTWARD_SHARE),
    );
    Ok(Answers {
        hold: permitted.surely_finite()
            && current.surely_finite()
            && size(&permitted) <= accel_limit
            && size(&current) <= current_limit,
        accel_mps2: size(&permitted),
        current_a: size(&current),
    })
}
