//! Stability margins of the closed loop, from the law's own stages in dual numbers.

pub mod dual;
pub mod friction;
pub mod law;
pub mod linearise;
pub mod loops;
pub mod margin;
pub mod plant_model;
pub mod state_space;
