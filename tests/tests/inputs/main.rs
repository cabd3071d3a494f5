//! What is read before anything is ridden: the default rig, its table for boards, the register of limits, numbers.

mod boards_table;
mod bounds_of_checks;
mod default_rig;
mod limits_complete;
mod limits_register;
mod numbers;
