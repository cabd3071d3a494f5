//! Seated bodies: what rests on the seat and how it moves on it.
//!
//! A body is a mass that moves with the seat and up to two masses on springs
//! and dampers, side by side on it. Published bodies are scaled to the
//! occupant: all masses, stiffnesses and dampers by the same factor, so that
//! their frequencies stay.

use serde::{Deserialize, Serialize};

/// A seated body by name.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum BodyKind {
    /// One rigid mass.
    Rigid,
    /// One sprung mass on a base mass: Wei and Griffin 1998, model 1b (values from memory).
    OneMass,
    /// Two sprung masses on a base mass: Wei and Griffin 1998, model 2b (values from memory).
    TwoMass,
}

impl BodyKind {
    /// All bodies.
    pub const ALL: [Self; 3] = [Self::Rigid, Self::OneMass, Self::TwoMass];
    /// Those of a person: the proof of the travel leaves rigid loads out.
    pub const SEATED: [Self; 2] = [Self::OneMass, Self::TwoMass];

    /// Name on the command line and in files.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Rigid => "rigid",
            Self::OneMass => "one-mass",
            Self::TwoMass => "two-mass",
        }
    }

    /// The body with a given name.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|b| b.name() == name)
    }
}

/// A mass on a spring and a damper.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Sprung {
    /// Mass, kg; zero for none.
    pub mass_kg: f64,
    /// Stiffness, N/m.
    pub stiffness_npm: f64,
    /// Damper, N s/m.
    pub damper_nspm: f64,
}

/// A body on the seat.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Body {
    /// Mass that moves with the seat, kg.
    pub base_kg: f64,
    /// Sprung masses.
    pub sprung: [Sprung; 2],
}

impl Body {
    /// The body of the given kind with `on_seat_kg` (> 0) resting on the seat.
    #[must_use]
    pub fn new(kind: BodyKind, on_seat_kg: f64) -> Self {
        let published = match kind {
            BodyKind::Rigid => Self {
                base_kg: 1.0,
                sprung: [Sprung::default(); 2],
            },
            BodyKind::OneMass => Self {
                base_kg: 7.8,
                sprung: [
                    Sprung {
                        mass_kg: 43.4,
                        stiffness_npm: 44_130.0,
                        damper_nspm: 1485.0,
                    },
                    Sprung::default(),
                ],
            },
            BodyKind::TwoMass => Self {
                base_kg: 6.7,
                sprung: [
                    Sprung {
                        mass_kg: 33.4,
                        stiffness_npm: 35_776.0,
                        damper_nspm: 761.0,
                    },
                    Sprung {
                        mass_kg: 10.7,
                        stiffness_npm: 38_374.0,
                        damper_nspm: 458.0,
                    },
                ],
            },
        };
        published.scaled(on_seat_kg / published.total_kg())
    }

    /// Everything multiplied by `factor`.
    #[must_use]
    pub fn scaled(&self, factor: f64) -> Self {
        Self {
            base_kg: self.base_kg * factor,
            sprung: self.sprung.map(|s| Sprung {
                mass_kg: s.mass_kg * factor,
                stiffness_npm: s.stiffness_npm * factor,
                damper_nspm: s.damper_nspm * factor,
            }),
        }
    }

    /// Mass at rest, kg.
    #[must_use]
    pub fn total_kg(&self) -> f64 {
        self.base_kg + self.sprung.iter().map(|s| s.mass_kg).sum::<f64>()
    }

    /// Apparent mass (force over seat acceleration) at `frequency_hz`: real and
    /// imaginary part, kg.
    #[must_use]
    pub fn apparent_mass(&self, frequency_hz: f64) -> (f64, f64) {
        let w = core::f64::consts::TAU * frequency_hz;
        let mut sum = (self.base_kg, 0.0);
        for s in self.sprung.iter().filter(|s| s.mass_kg > 0.0) {
            // m (k + j w c) / (k - m w^2 + j w c)
            let (re, im) = (s.stiffness_npm - s.mass_kg * w * w, w * s.damper_nspm);
            let size = re * re + im * im;
            let (nr, ni) = (s.stiffness_npm, w * s.damper_nspm);
            sum.0 += s.mass_kg * (nr * re + ni * im) / size;
            sum.1 += s.mass_kg * (ni * re - nr * im) / size;
        }
        sum
    }
}
