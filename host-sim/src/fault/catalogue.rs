//! Every kind of fault with its name, what it is, and what it can be told: data for help texts, documents
//! and campaigns.

use super::kind::{ActuatorFault, Kind, OperatorFault, SensorFault, SupplyFault, TimeFault};
use crate::sensors::Quantity;
use std::sync::LazyLock;

/// A number that a fault can be told.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Argument {
    /// What it is.
    pub about: &'static str,
    /// Its unit; "1" for none.
    pub unit: &'static str,
    /// Taken when it is not given.
    pub default: f64,
    /// Least value.
    pub low: f64,
    /// Greatest value.
    pub high: f64,
}

/// How long a fault lasts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Lasts {
    /// To the end of the ride, unless a duration is given.
    ToTheEnd,
    /// This long, s, unless a duration is given.
    For(f64),
    /// No time: a duration cannot be given.
    Moment,
}

/// One kind of fault.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// The kind.
    pub kind: Kind,
    /// Name on the command line and in files.
    pub name: String,
    /// What happens, in one sentence.
    pub about: String,
    /// How much of it.
    pub size: Option<Argument>,
    /// How often it comes, s.
    pub every: Option<Argument>,
    /// How long.
    pub lasts: Lasts,
}

/// Shortest and longest time between two comings, s.
const EVERY: (f64, f64) = (0.0005, 10.0);
/// Pairs of sensors whose wires may be swapped.
const PAIRS: [(Quantity, Quantity); 4] = [
    (Quantity::FloorAccel, Quantity::SeatAccel),
    (Quantity::FloorAccel, Quantity::Travel),
    (Quantity::SeatAccel, Quantity::Travel),
    (Quantity::Travel, Quantity::Current),
];

static ENTRIES: LazyLock<Vec<Entry>> = LazyLock::new(entries);

/// All kinds of fault, class by class.
#[must_use]
pub fn catalogue() -> &'static [Entry] {
    &ENTRIES
}

/// The entry of a kind; `None` for a kind that makes no sense, as a supply voltage of the other sign.
#[must_use]
pub fn entry(kind: Kind) -> Option<&'static Entry> {
    ENTRIES.iter().find(|e| e.kind == kind)
}

/// The entry of that name.
#[must_use]
pub fn by_name(name: &str) -> Option<&'static Entry> {
    ENTRIES.iter().find(|e| e.name == name)
}

const fn argument(
    about: &'static str,
    unit: &'static str,
    default: f64,
    (low, high): (f64, f64),
) -> Argument {
    Argument {
        about,
        unit,
        default,
        low,
        high,
    }
}

const fn every(about: &'static str, default: f64) -> Option<Argument> {
    Some(argument(about, "s", default, EVERY))
}

fn entries() -> Vec<Entry> {
    let mut all = Vec::new();
    for quantity in Quantity::ALL {
        // The counts of the supply have no sign.
        let known = |f: &SensorFault| !(quantity == Quantity::Supply && *f == SensorFault::Sign);
        all.extend(
            SensorFault::ALL
                .into_iter()
                .filter(known)
                .map(|f| sensor(quantity, f)),
        );
    }
    all.extend(PAIRS.into_iter().map(|(a, b)| {
        let words = (a.name(), b.name());
        Entry {
            kind: Kind::Swapped(a, b),
            name: format!("{}-{}-swapped", words.0, words.1),
            about: format!("the counts of {} and {} are swapped", words.0, words.1),
            size: None,
            every: None,
            lasts: Lasts::ToTheEnd,
        }
    }));
    all.extend(actuator());
    all.extend(supply());
    all.extend(time());
    all.push(Entry {
        kind: Kind::MemoryFlip,
        name: "memory-flip".to_owned(),
        about: "one bit of a number in the law's state or constants turns over, before the step of that \
                period; the numbers are those of the law's arithmetic, counted through the controller"
            .to_owned(),
        size: Some(argument("which bit", "bit", 30.0, (0.0, 1.0e6))),
        every: None,
        lasts: Lasts::Moment,
    });
    all.extend(operator());
    all
}

/// Typical sizes for a sensor: bias, drift a second, noise, spike, range; and the largest of each.
const fn sizes(quantity: Quantity) -> ([f64; 5], f64) {
    match quantity {
        Quantity::FloorAccel | Quantity::SeatAccel => ([2.0, 0.2, 2.0, 30.0, 5.0], 150.0),
        Quantity::Travel => ([0.005, 0.001, 0.001, 0.01, 0.02], 0.5),
        Quantity::Current => ([10.0, 2.0, 5.0, 50.0, 20.0], 200.0),
        Quantity::Supply => ([5.0, 1.0, 2.0, 15.0, 40.0], 200.0),
        Quantity::CoilTemperature => ([30.0, 5.0, 10.0, 50.0, 40.0], 500.0),
    }
}

/// What is added a second, by quantity.
const fn per_second(quantity: Quantity) -> &'static str {
    match quantity {
        Quantity::FloorAccel | Quantity::SeatAccel => "m/s3",
        Quantity::Travel => "m/s",
        Quantity::Current => "A/s",
        Quantity::Supply => "V/s",
        Quantity::CoilTemperature => "K/s",
    }
}

fn sensor(quantity: Quantity, fault: SensorFault) -> Entry {
    let ([bias, drift, noise, spike, range], most) = sizes(quantity);
    let unit = quantity.unit();
    let (name, about, size, repeats) = match fault {
        SensorFault::Dead => ("dead", "reads 0 counts", None, None),
        SensorFault::Stuck => ("stuck", "stays at its last counts", None, None),
        SensorFault::Stale => (
            "stale",
            "gives a fresh value only now and then, the last one in between",
            None,
            every("time between fresh values", 0.02),
        ),
        SensorFault::Bias => (
            "bias",
            "is off by a constant, from one sample to the next",
            Some(argument("what is added", unit, bias, (-most, most))),
            None,
        ),
        SensorFault::Drift => (
            "drift",
            "is off by ever more, from zero at the onset",
            Some(argument(
                "what is added a second",
                per_second(quantity),
                drift,
                (-most, most),
            )),
            None,
        ),
        SensorFault::Gain => (
            "gain",
            "has a wrong scale",
            Some(argument("factor", "1", 1.3, (-10.0, 10.0))),
            None,
        ),
        SensorFault::Sign => ("sign", "has the other sign", None, None),
        SensorFault::Noise => (
            "noise",
            "has white noise on top",
            Some(argument("r.m.s.", unit, noise, (0.0, most))),
            None,
        ),
        SensorFault::Spikes => (
            "spikes",
            "has single samples that are off, up and down in turn",
            Some(argument("height", unit, spike, (-most, most))),
            every("time from one to the next", 0.05),
        ),
        SensorFault::Saturated => (
            "saturated",
            "does not go beyond a lower range, to either side",
            Some(argument("end of the range", unit, range, (0.0, most))),
            None,
        ),
        SensorFault::Coarse => (
            "coarse",
            "has lost its lowest bits, which read zero",
            Some(argument("bits lost", "bit", 6.0, (1.0, 15.0))),
            None,
        ),
        SensorFault::Delayed => (
            "delayed",
            "is late",
            Some(argument("by how much", "s", 0.02, (0.0005, 1.0))),
            None,
        ),
    };
    Entry {
        kind: Kind::Sensor(quantity, fault),
        name: format!("{}-{name}", quantity.name()),
        about: format!("the {} sensor {about}", quantity.name()),
        size,
        every: repeats,
        lasts: match fault {
            SensorFault::Noise => Lasts::For(1.0),
            _ => Lasts::ToTheEnd,
        },
    }
}

/// An entry from its parts.
fn made(
    kind: Kind,
    name: &str,
    about: &str,
    size: Option<Argument>,
    every: Option<Argument>,
    lasts: Lasts,
) -> Entry {
    Entry {
        kind,
        name: name.to_owned(),
        about: about.to_owned(),
        size,
        every,
        lasts,
    }
}

fn actuator() -> Vec<Entry> {
    use ActuatorFault as A;
    let one = |fault, name, about, size| {
        made(
            Kind::Actuator(fault),
            name,
            about,
            size,
            None,
            Lasts::ToTheEnd,
        )
    };
    let some = |about, unit, default, range| Some(argument(about, unit, default, range));
    vec![
        one(
            A::NoForce,
            "no-force",
            "the motor takes its current and gives neither force nor back-EMF",
            None,
        ),
        one(
            A::Weak,
            "force-weak",
            "force and back-EMF are a share of what they were",
            some("share that is left", "1", 0.5, (0.0, 2.0)),
        ),
        one(
            A::CurrentStuck,
            "current-loop-stuck",
            "the enabled output stage drives a current of its own, whatever the command",
            some("current", "A", 30.0, (-200.0, 200.0)),
        ),
        one(
            A::Reversed,
            "motor-reversed",
            "the motor's leads are swapped: force and back-EMF have the other sign",
            None,
        ),
        one(
            A::OneSided,
            "one-sided",
            "only current of one sign flows, the other is zero",
            some("sign that works, +1 or -1", "1", 1.0, (-1.0, 1.0)),
        ),
        one(
            A::LoopSlow,
            "current-loop-slow",
            "the current loop has a lower bandwidth",
            some("bandwidth", "Hz", 20.0, (0.1, 1000.0)),
        ),
        one(
            A::WindingShort,
            "winding-short",
            "the motor's terminals are joined behind the current sensor: the back-EMF alone drives the \
             winding, whatever the command; the sensor shows the output stage's current, which follows \
             the command through the short",
            None,
        ),
        one(
            A::WindingOpen,
            "winding-open",
            "a lead is broken: no current, and no damping by shorted windings",
            None,
        ),
        one(
            A::Hot,
            "coil-hot",
            "the winding is held at a temperature from outside",
            some("temperature", "deg C", 150.0, (-40.0, 300.0)),
        ),
        one(
            A::Jammed,
            "jammed",
            "the guide rubs: more dry friction, sliding and breakaway alike",
            some("what is added", "N", 300.0, (0.0, 20_000.0)),
        ),
        one(
            A::SpringBroken,
            "spring-broken",
            "the support has lost a share of its stiffness and of its preload",
            some("share that is lost", "1", 0.5, (0.0, 1.0)),
        ),
        one(
            A::EnableStuck,
            "enable-stuck",
            "the output stage does not let go: when told to, it keeps its last current, and the windings \
             are not shorted",
            None,
        ),
        one(
            A::ShortMissing,
            "short-missing",
            "the windings stay open where they should be shorted",
            None,
        ),
    ]
}

fn supply() -> Vec<Entry> {
    use SupplyFault as V;
    let one =
        |fault, name, about, size, lasts| made(Kind::Supply(fault), name, about, size, None, lasts);
    let volts = |default| Some(argument("voltage", "V", default, (0.0, 200.0)));
    vec![
        one(
            V::Sag,
            "power-sag",
            "the machine's network is low, behind its resistance",
            volts(30.0),
            Lasts::For(1.0),
        ),
        one(
            V::Spike,
            "power-surge",
            "the machine's network is high, behind its resistance",
            volts(80.0),
            Lasts::For(0.1),
        ),
        one(
            V::Loss,
            "power-loss",
            "the machine's network is gone: the bus has its capacitor alone",
            None,
            Lasts::ToTheEnd,
        ),
        one(
            V::ChopperShut,
            "chopper-shut",
            "the brake chopper does not open: returned energy stays in the capacitor",
            None,
            Lasts::ToTheEnd,
        ),
    ]
}

fn time() -> Vec<Entry> {
    use TimeFault as T;
    let one = |fault, name, about, size, every, lasts| {
        made(Kind::Time(fault), name, about, size, every, lasts)
    };
    vec![
        one(
            T::Late,
            "late",
            "answers come after the end of their period: the one before acts a period longer, and the \
             next frame is marked",
            None,
            every("time from one to the next", 0.005),
            Lasts::ToTheEnd,
        ),
        one(
            T::Skipped,
            "skipped",
            "periods go by without a step: outputs stay, and the frame's number jumps by one",
            None,
            every("time from one to the next", 0.005),
            Lasts::ToTheEnd,
        ),
        one(
            T::Jitter,
            "jitter",
            "sensors are sampled early by an even chance, linear between the ends of the period before",
            Some(argument("at most, in periods", "1", 0.5, (0.0, 1.0))),
            None,
            Lasts::ToTheEnd,
        ),
        one(
            T::SequenceJump,
            "sequence-jump",
            "the frame's number jumps once, nothing else does",
            Some(argument("by how much", "1", 100.0, (1.0, 65_535.0))),
            None,
            Lasts::Moment,
        ),
        one(
            T::FramesRepeated,
            "frames-repeated",
            "the frame before is given again, its number too",
            None,
            every("time from one to the next", 0.002),
            Lasts::ToTheEnd,
        ),
        one(
            T::ClockFrozen,
            "clock-frozen",
            "the last frame is given again and again, its number too",
            None,
            None,
            Lasts::ToTheEnd,
        ),
        one(
            T::Watchdog,
            "watchdog",
            "the controller restarts: windings shorted and nothing else while it is dead, then a law that \
             knows nothing",
            Some(argument("dead time", "s", 0.05, (0.0, 60.0))),
            None,
            Lasts::Moment,
        ),
    ]
}

fn operator() -> Vec<Entry> {
    use OperatorFault as O;
    let one = |fault, name, about, size, every, lasts| {
        made(Kind::Operator(fault), name, about, size, every, lasts)
    };
    vec![
        one(
            O::Leaves,
            "occupant-leaves",
            "whoever sits there leaves, and sits down again at the end",
            None,
            None,
            Lasts::For(5.0),
        ),
        one(
            O::Swapped,
            "occupant-swapped",
            "another occupant takes the seat, in one move",
            Some(argument("mass", "kg", 130.0, (20.0, 200.0))),
            None,
            Lasts::Moment,
        ),
        one(
            O::Bounces,
            "occupant-bounces",
            "the occupant pushes the seat down and up, as a sine",
            Some(argument("force", "N", 300.0, (0.0, 5000.0))),
            every("period of the sine", 0.5),
            Lasts::ToTheEnd,
        ),
        one(
            O::Wedged,
            "wedged",
            "something under the seat, as stiff as the bumper, ends the travel early; it slips in when the \
             seat is above it",
            Some(argument("below mid travel", "m", 0.01, (0.0, 0.5))),
            None,
            Lasts::ToTheEnd,
        ),
        one(
            O::StopOpened,
            "stop-opened",
            "the machine's stop circuit is open",
            None,
            None,
            Lasts::ToTheEnd,
        ),
        one(
            O::Disarmed,
            "disarmed",
            "the arming switch is off",
            None,
            None,
            Lasts::ToTheEnd,
        ),
        one(
            O::SwitchOpen,
            "occupant-switch-open",
            "the occupant switch is open, though somebody sits there",
            None,
            None,
            Lasts::ToTheEnd,
        ),
    ]
}
