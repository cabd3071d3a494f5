//! How much a dossier runs.

use serde::Serialize;

/// How much is run of everything.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Plan {
    /// `full`, `quick` or another name of a plan's maker.
    pub name: String,
    /// Rides on the machine floors.
    pub rides: RidesPlan,
    /// Seeds of the single events.
    pub event_seeds: u64,
    /// Rides until the mass must be known.
    pub seated: SeatedPlan,
    /// Seeds of the stepped sine; none leaves it out.
    pub sweep_seeds: u64,
    /// Seeds of the commissioning test; none leaves it out.
    pub commission_seeds: u64,
    /// Random machines of the margins; none leaves the margins out.
    pub margin_draws: Option<usize>,
    /// Whether the travel is proved.
    pub certificate: bool,
    /// Whether the modes are explored.
    pub modes: bool,
    /// Rides of the hunt, from each of so many seeds.
    pub hunt: (usize, u64),
    /// The fault campaign.
    pub faults: FaultsPlan,
    /// Moments and step of the flipped bits; a step of 0 leaves them out.
    pub bitflips: (usize, usize),
    /// Seeds of the headroom and its levels; no seeds leave it out.
    pub headroom: (u64, Vec<f64>),
    /// Whether the emulated cores are asked for time, memory and the same bits.
    pub cores: bool,
}

/// Rides on the machine floors.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RidesPlan {
    /// Floors by name.
    pub floors: Vec<String>,
    /// Levels, ridden by 80 kg.
    pub levels: Vec<f64>,
    /// Seeds, from 1 on.
    pub seeds: u64,
    /// Length, s.
    pub seconds: f64,
    /// Start left out, s.
    pub skip_s: f64,
    /// Other occupants and bodies on the rougher levels, from so many seeds.
    pub load_seeds: u64,
}

/// Rides of one who is seated at the start, and of one who sits down.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SeatedPlan {
    /// Floors by name.
    pub floors: Vec<String>,
    /// Occupants, kg.
    pub occupants_kg: Vec<f64>,
    /// Seeds, from 1 on.
    pub seeds: u64,
    /// Whether one who sits down on the way is ridden too.
    pub sits_down: bool,
}

/// The fault campaign.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FaultsPlan {
    /// Whether faults are put in at all.
    pub run: bool,
    /// Beginnings of the faults' names; all when empty.
    pub only: Vec<String>,
    /// Floors by name; those of the campaign when empty.
    pub floors: Vec<String>,
    /// One occupant and one onset.
    pub quick: bool,
    /// Hours of healthy riding, h.
    pub hours: f64,
    /// Seeds, from 1 on.
    pub seeds: u64,
}

/// The six invented machine floors.
const FLOORS: [&str; 6] = [
    "hauler", "loader", "grader", "compact", "crawler", "ballast",
];

fn names(floors: &[&str]) -> Vec<String> {
    floors.iter().map(|f| (*f).to_owned()).collect()
}

impl Plan {
    /// Everything that the targets ask for.
    #[must_use]
    pub fn full() -> Self {
        Self {
            name: "full".to_owned(),
            rides: RidesPlan {
                floors: names(&FLOORS),
                levels: vec![1.0, 2.5, 4.0],
                seeds: 10,
                seconds: 60.0,
                skip_s: 5.0,
                load_seeds: 3,
            },
            event_seeds: 10,
            seated: SeatedPlan {
                floors: names(&FLOORS),
                occupants_kg: vec![40.0, 60.0, 80.0, 100.0, 130.0],
                seeds: 5,
                sits_down: true,
            },
            sweep_seeds: 3,
            commission_seeds: 10,
            margin_draws: Some(2000),
            certificate: true,
            modes: true,
            hunt: (6000, 2),
            faults: FaultsPlan {
                run: true,
                only: Vec::new(),
                floors: Vec::new(),
                quick: false,
                hours: 10.0,
                seeds: 2,
            },
            bitflips: (20, 3),
            headroom: (2, vec![1.0, 1.5, 2.5]),
            cores: true,
        }
    }

    /// A little of everything but the cores, for every change.
    #[must_use]
    pub fn quick() -> Self {
        let full = Self::full();
        Self {
            name: "quick".to_owned(),
            rides: RidesPlan {
                levels: vec![1.0, 2.5],
                seeds: 3,
                load_seeds: 0,
                ..full.rides
            },
            event_seeds: 3,
            seated: SeatedPlan {
                occupants_kg: vec![40.0, 80.0, 130.0],
                seeds: 2,
                sits_down: false,
                ..full.seated
            },
            sweep_seeds: 2,
            commission_seeds: 3,
            margin_draws: Some(0),
            hunt: (600, 2),
            faults: FaultsPlan {
                quick: true,
                hours: 0.5,
                ..full.faults
            },
            bitflips: (2, 17),
            headroom: (1, vec![2.5]),
            cores: false,
            ..full
        }
    }
}
