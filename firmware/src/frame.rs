//! What crosses the board's edge: raw counts in two fixed-size frames.

/// Switch inputs, one bit each.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Switches(pub u8);

impl Switches {
    /// The operator's arming switch is on.
    pub const ARM: u8 = 1 << 0;
    /// The seat's occupant switch is closed.
    pub const OCCUPANT: u8 = 1 << 1;
    /// The machine's stop circuit is closed (healthy).
    pub const STOP_CIRCUIT: u8 = 1 << 2;

    /// Whether all bits of `mask` are set.
    #[must_use]
    pub const fn has(self, mask: u8) -> bool {
        self.0 & mask == mask
    }
}

/// What the board says about the sample and its own time, one bit each.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Marks(pub u8);

impl Marks {
    /// The floor accelerometer's driver gave no value.
    pub const FLOOR_ACCEL: u8 = 1 << 0;
    /// The seat accelerometer's driver gave no value.
    pub const SEAT_ACCEL: u8 = 1 << 1;
    /// The travel sensor's driver gave no value.
    pub const TRAVEL: u8 = 1 << 2;
    /// The current sensor's driver gave no value.
    pub const CURRENT: u8 = 1 << 3;
    /// The supply voltage could not be read.
    pub const SUPPLY: u8 = 1 << 4;
    /// The coil temperature could not be read.
    pub const COIL_TEMPERATURE: u8 = 1 << 5;
    /// An output could not be set in the last period.
    pub const OUTPUT: u8 = 1 << 6;
    /// The last answer came after its period had ended.
    pub const LATE: u8 = 1 << 7;

    /// Whether any bit of `mask` is set.
    #[must_use]
    pub const fn any_of(self, mask: u8) -> bool {
        self.0 & mask != 0
    }
}

/// One sample of every sensor, as the board's converters give it.
///
/// Little-endian on the wire, 16 bytes, in the order of the fields.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct SensorFrame {
    /// Rises by one every control period, wraps.
    pub sequence: u16,
    /// Floor accelerometer, counts, positive upward.
    pub floor_accel: i16,
    /// Seat accelerometer, counts, positive upward.
    pub seat_accel: i16,
    /// Travel sensor, counts, positive when the seat is above mid travel.
    pub travel: i16,
    /// Winding current, counts, positive when it lifts the seat.
    pub current: i16,
    /// Supply voltage, counts.
    pub supply: u16,
    /// Coil temperature, counts.
    pub coil_temperature: i16,
    /// Switch inputs.
    pub switches: Switches,
    /// What the board could not do.
    pub marks: Marks,
}

impl SensorFrame {
    /// Size on the wire, bytes.
    pub const BYTES: usize = 16;

    /// The frame as it crosses a link.
    #[must_use]
    pub fn to_bytes(self) -> [u8; Self::BYTES] {
        let [s0, s1] = self.sequence.to_le_bytes();
        let [f0, f1] = self.floor_accel.to_le_bytes();
        let [a0, a1] = self.seat_accel.to_le_bytes();
        let [t0, t1] = self.travel.to_le_bytes();
        let [c0, c1] = self.current.to_le_bytes();
        let [v0, v1] = self.supply.to_le_bytes();
        let [h0, h1] = self.coil_temperature.to_le_bytes();
        [
            s0,
            s1,
            f0,
            f1,
            a0,
            a1,
            t0,
            t1,
            c0,
            c1,
            v0,
            v1,
            h0,
            h1,
            self.switches.0,
            self.marks.0,
        ]
    }

    /// The frame in the bytes of a link; every pattern is a frame.
    #[must_use]
    pub fn from_bytes(bytes: [u8; Self::BYTES]) -> Self {
        let [
            s0,
            s1,
            f0,
            f1,
            a0,
            a1,
            t0,
            t1,
            c0,
            c1,
            v0,
            v1,
            h0,
            h1,
            switches,
            marks,
        ] = bytes;
        Self {
            sequence: u16::from_le_bytes([s0, s1]),
            floor_accel: i16::from_le_bytes([f0, f1]),
            seat_accel: i16::from_le_bytes([a0, a1]),
            travel: i16::from_le_bytes([t0, t1]),
            current: i16::from_le_bytes([c0, c1]),
            supply: u16::from_le_bytes([v0, v1]),
            coil_temperature: i16::from_le_bytes([h0, h1]),
            switches: Switches(switches),
            marks: Marks(marks),
        }
    }
}

/// What the board does until the next frame.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct DriveFrame {
    /// Sequence number of the sensor frame that it answers.
    pub sequence: u16,
    /// With [`Self::ENABLE`]: current command, counts, positive lifts the seat. With [`Self::DAMP`]: how much of the
    /// brake resistor is bridged, 0 for none, 32767 for all (windings shorted).
    pub current_command: i16,
    /// Output bits, see the constants.
    pub outputs: u8,
    /// The supervisor's mode, as [`crate::Mode::code`].
    pub mode: u8,
    /// Standing faults, as [`crate::Faults`].
    pub faults: u16,
}

impl DriveFrame {
    /// The safe state: drive off, windings joined through the brake resistor. What a board puts out before the
    /// first step.
    pub const SAFE: Self = Self {
        sequence: 0,
        current_command: 0,
        outputs: Self::DAMP,
        mode: 6,
        faults: 0,
    };

    /// The output stage may drive current.
    pub const ENABLE: u8 = 1 << 0;
    /// The windings are joined through the brake resistor: the motor damps without power. Open they are with neither this nor
    /// [`DriveFrame::ENABLE`]: in the first steps of Fault, when the motor was driven until then.
    pub const DAMP: u8 = 1 << 1;
    /// The height adjuster adds preload to the support spring; also beside [`DriveFrame::DAMP`].
    pub const LEVEL_UP: u8 = 1 << 2;
    /// The height adjuster takes preload off the support spring; never beside [`DriveFrame::DAMP`].
    pub const LEVEL_DOWN: u8 = 1 << 3;

    /// Size on the wire, bytes.
    pub const BYTES: usize = 8;

    /// Whether all bits of `mask` are set in the outputs.
    #[must_use]
    pub const fn has(&self, mask: u8) -> bool {
        self.outputs & mask == mask
    }

    /// The frame as it crosses a link.
    #[must_use]
    pub fn to_bytes(self) -> [u8; Self::BYTES] {
        let [s0, s1] = self.sequence.to_le_bytes();
        let [c0, c1] = self.current_command.to_le_bytes();
        let [f0, f1] = self.faults.to_le_bytes();
        [s0, s1, c0, c1, self.outputs, self.mode, f0, f1]
    }

    /// The frame in the bytes of a link; every pattern is a frame. The mode stays as it is,
    /// also when it is none of [`crate::Mode`].
    #[must_use]
    pub const fn from_bytes(bytes: [u8; Self::BYTES]) -> Self {
        let [s0, s1, c0, c1, outputs, mode, f0, f1] = bytes;
        Self {
            sequence: u16::from_le_bytes([s0, s1]),
            current_command: i16::from_le_bytes([c0, c1]),
            outputs,
            mode,
            faults: u16::from_le_bytes([f0, f1]),
        }
    }
}
