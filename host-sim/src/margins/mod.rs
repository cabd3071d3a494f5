//! Stability margins of the closed loop.
//!
//! | file | purpose |
//! |---|---|
//! | `dual` | dual numbers on a tape |
//! | `law` | the law's own stages about an operating point |
//! | `linearise` | from the tape to an exact linear law |
//! | `forecast` | the forecast with its coefficients frozen |
//! | `friction` | dry friction by describing function |
//! | `plant_model` | the plant, discretised exactly |
//! | `state_space` | matrices, frequency response, poles |
//! | `loops` | the loop closed, and broken at one place |
//! | `margin` | gain, phase, delay and disk margin |
//! | `point`, `vary` | operating points; machines that differ from what the law was told |
//! | `limits`, `study` | what the margins should be; grid and random machines |
//! | `breaking` | one value at a time until a limit breaks |
//! | `map` | worst margin over mass and delay |
//! | `export` | the linear loop as a file |

pub mod breaking;
pub mod dual;
pub mod export;
pub mod forecast;
pub mod friction;
pub mod law;
pub mod limits;
pub mod linearise;
pub mod loops;
pub mod map;
pub mod margin;
pub mod plant_model;
pub mod point;
pub mod state_space;
pub mod study;
pub mod vary;
