//! How many strikes ended how, by field.

use super::bench::Bench;
use super::strike::{Ending, Strike};
use serde::Serialize;
use std::collections::BTreeMap;

/// The strike of a field that came nearest to a limit, or broke it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Worst {
    /// Path of the word.
    pub path: String,
    /// Bit of the word, from the lowest.
    pub bit: u64,
    /// What it ended in.
    pub ending: &'static str,
    /// Share of the nearest limit.
    pub share_of_limit: f64,
    /// R.m.s. of the seat after a second over the healthy one's.
    pub ride_ratio: f64,
    /// The command that rides it.
    pub command: String,
    #[serde(skip)]
    rank: (bool, f64),
}

/// Strikes of one field; elements of arrays are one field.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Field {
    /// Path.
    pub path: String,
    /// Bits turned over.
    pub flips: u64,
    /// Came back by themselves.
    pub healed: u64,
    /// Ended in the safe state.
    pub safe_state: u64,
    /// Were not seen, and did nothing.
    pub undetected_harmless: u64,
    /// Broke a limit, or rode otherwise.
    pub broken: u64,
    /// The nearest to a limit.
    pub worst: Option<Worst>,
}

impl Field {
    fn count(&mut self, ending: Ending) {
        self.flips += 1;
        match ending {
            Ending::Healed => self.healed += 1,
            Ending::SafeState => self.safe_state += 1,
            Ending::Harmless => self.undetected_harmless += 1,
            Ending::HardContact | Ending::HardSeat | Ending::OtherRide => self.broken += 1,
        }
    }
}

/// All strikes.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Report {
    /// Bits turned over.
    pub flips: u64,
    /// Came back by themselves within a second.
    pub healed: u64,
    /// Ended in the safe state without breaking a limit.
    pub safe_state: u64,
    /// Were not seen, and did nothing.
    pub undetected_harmless: u64,
    /// Broke a limit, or rode otherwise.
    pub broken: u64,
    /// Moments at which was struck.
    pub moments: usize,
    /// Bits of memory.
    pub memory_bits: usize,
    /// By field, the worst first.
    pub fields: Vec<Field>,
}

impl Report {
    pub(super) fn new<'s>(bench: &Bench<'_>, strikes: impl Iterator<Item = &'s Strike>) -> Self {
        let mut fields: BTreeMap<String, Field> = BTreeMap::new();
        let mut all = Field::default();
        for strike in strikes {
            all.count(strike.ending);
            let path = &bench.places[(strike.bit / 32) as usize].path;
            let parts = path
                .split('.')
                .filter(|part| part.parse::<usize>().is_err());
            let name = parts.collect::<Vec<_>>().join(".");
            let field = fields.entry(name.clone()).or_insert_with(|| Field {
                path: name,
                ..Field::default()
            });
            field.count(strike.ending);
            let off = (strike.ride_ratio - 1.0).abs();
            let rank = (strike.ending.is_broken(), f64::max(strike.used, off));
            if field.worst.as_ref().is_none_or(|worst| worst.rank < rank) {
                field.worst = Some(Worst {
                    path: path.clone(),
                    bit: strike.bit % 32,
                    ending: strike.ending.words(),
                    share_of_limit: strike.used,
                    ride_ratio: strike.ride_ratio,
                    command: bench.command(strike.moment, strike.bit),
                    rank,
                });
            }
        }
        let mut fields: Vec<Field> = fields.into_values().collect();
        let used = |f: &Field| f.worst.as_ref().map_or(0.0, |w| w.share_of_limit);
        fields.sort_by(|a, b| {
            (b.broken, b.undetected_harmless)
                .cmp(&(a.broken, a.undetected_harmless))
                .then(used(b).total_cmp(&used(a)))
        });
        Self {
            flips: all.flips,
            healed: all.healed,
            safe_state: all.safe_state,
            undetected_harmless: all.undetected_harmless,
            broken: all.broken,
            moments: bench.moments(),
            memory_bits: 32 * bench.places.len(),
            fields,
        }
    }
}
