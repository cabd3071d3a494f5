//! Faults in words, for reports and messages.

use firmware::{Fault, Faults};

/// The faults of a set in words, in the order of their bits.
#[must_use]
pub fn fault_words(faults: Faults) -> Vec<&'static str> {
    faults.iter().map(words).collect()
}

const fn words(fault: Fault) -> &'static str {
    match fault {
        Fault::FloorAccel => "floor accelerometer",
        Fault::SeatAccel => "seat accelerometer",
        Fault::Travel => "travel sensor",
        Fault::Current => "current",
        Fault::Supply => "supply voltage",
        Fault::CoilTemperature => "coil temperature",
        Fault::Sequence => "frame sequence",
        Fault::CrossCheck => "accelerometers and travel disagree",
        Fault::NotFinite => "a number that is not finite",
        Fault::Late => "answers too late",
        Fault::Output => "an output not reached",
        Fault::Hot => "coil too hot",
        Fault::Force => "the motor does not give its force",
        Fault::Memory => "memory of the controller",
    }
}
