//! Faults in closed forms, their campaign, and struck memory.

mod bitflips;
mod campaign_cases;
mod campaign_judge;
mod campaign_limits;
mod catalogue;
mod machine;
mod memory;
mod motor_or_sensor;
mod operator;
mod sensors;
mod time;
mod travel_or_accelerometer;
mod waiting;
