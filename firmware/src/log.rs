//! Logging in one place: by `defmt` with the feature of that name, nothing at all without it.
//!
//! Without the feature the macros only borrow their arguments, so that no variable is unused; the
//! compiler removes that.

/// Logs how things are.
macro_rules! log_info {
    ($text:literal $(, $value:expr)* $(,)?) => {{
        #[cfg(feature = "defmt")]
        defmt::info!($text $(, $value)*);
        #[cfg(not(feature = "defmt"))]
        { $( let _ = &$value; )* }
    }};
}

/// Logs what should not be.
macro_rules! log_warn {
    ($text:literal $(, $value:expr)* $(,)?) => {{
        #[cfg(feature = "defmt")]
        defmt::warn!($text $(, $value)*);
        #[cfg(not(feature = "defmt"))]
        { $( let _ = &$value; )* }
    }};
}

pub(crate) use {log_info, log_warn};

#[cfg(feature = "defmt")]
mod format {
    use crate::check::BuildError;
    use crate::vet::{Fault, Faults};

    impl defmt::Format for BuildError {
        fn format(&self, f: defmt::Formatter<'_>) {
            defmt::write!(
                f,
                "parameter {=str} = {=f32}: expected {=str}",
                self.field,
                self.value,
                self.expected
            );
        }
    }

    const fn name(fault: Fault) -> &'static str {
        match fault {
            Fault::FloorAccel => "floor-accel",
            Fault::SeatAccel => "seat-accel",
            Fault::Travel => "travel",
            Fault::Current => "current",
            Fault::Supply => "supply",
            Fault::CoilTemperature => "coil-temperature",
            Fault::Sequence => "sequence",
            Fault::CrossCheck => "cross-check",
            Fault::NotFinite => "not-finite",
            Fault::Late => "late",
            Fault::Output => "output",
            Fault::Force => "force",
            Fault::Hot => "hot",
            Fault::Memory => "memory",
        }
    }

    /// The names of the faults, joined by `+`; `none` when there is none.
    impl defmt::Format for Faults {
        fn format(&self, f: defmt::Formatter<'_>) {
            if !self.any() {
                defmt::write!(f, "none");
            }
            for (n, fault) in self.iter().enumerate() {
                let joint = if n == 0 { "" } else { "+" };
                defmt::write!(f, "{=str}{=str}", joint, name(fault));
            }
        }
    }
}
