//! Moments of a ride that one may want to look at, found while it is ridden, in bounded memory.

use crate::report::modes::{ModeLog, mode_name};
use crate::ride::Sample;
use crate::summary::Summary;

/// Changes of mode and fault bits that are kept for the band of modes, and those that are listed.
const CHANGES: usize = 6000;
const LISTED: usize = 200;
/// Largest number of approaches kept, and of contacts of each seat: the closest and the hardest.
const KEPT: usize = 100;
/// An approach is over when the arrest has been silent for so long, s.
const SILENCE_S: f64 = 0.15;
/// Approaches that end nearer to a stop than this can be foremost, m: nearer than the arrest's own rest point
/// and its allowance for the travel foreseen, with a little room.
const CLOSE_M: f64 = 0.004;
/// So many approaches and contacts are foremost, the closest and the hardest: of a rough ride in which every
/// approach is slow most is slow.
const FOREMOST: usize = 12;
/// Slow motion before and after the moment, s.
const SLOW_S: [f64; 2] = [0.30, 0.25];

/// What kind of moment it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Something breaks, as was asked for.
    Fault,
    /// The firmware notices it, or takes the drive away.
    Answer,
    /// The mode or the set of fault bits changes.
    Mode,
    /// The arrest slows the seat before a stop.
    Arrest,
    /// The seat under the law meets a stop.
    Contact,
    /// The passive seat meets a stop.
    PassiveContact,
    /// The largest of something.
    Extreme,
}

impl Kind {
    /// All kinds, in the order in which they are offered.
    pub const ALL: [Self; 7] = [
        Self::Fault,
        Self::Answer,
        Self::Arrest,
        Self::Contact,
        Self::PassiveContact,
        Self::Extreme,
        Self::Mode,
    ];

    /// Name in the page's data.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Fault => "fault",
            Self::Answer => "answer",
            Self::Mode => "mode",
            Self::Arrest => "arrest",
            Self::Contact => "contact",
            Self::PassiveContact => "passive-contact",
            Self::Extreme => "extreme",
        }
    }

    /// Words for people.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Fault => "fault put in",
            Self::Answer => "fault answered",
            Self::Mode => "change of mode",
            Self::Arrest => "arrest before a stop",
            Self::Contact => "stop met, law",
            Self::PassiveContact => "stop met, passive seat",
            Self::Extreme => "largest value",
        }
    }
}

/// One moment.
#[derive(Clone, Debug, PartialEq)]
pub struct Event {
    /// When, s.
    pub at_s: f64,
    /// What kind.
    pub kind: Kind,
    /// What happens, in words.
    pub words: String,
    /// From when to when it may be shown slowly, s.
    pub slow_s: Option<[f64; 2]>,
    /// Whether it is one of those that are shown slowly unless more is asked for: faults, the closest arrests,
    /// the hardest contacts.
    pub foremost: bool,
}

/// A moment with what it is ranked by: the larger, the sooner it is kept.
#[derive(Clone, Copy, Debug)]
struct Ranked {
    at_s: f64,
    upper: bool,
    rank: f64,
    /// Largest change by the arrest, m/s^2.
    strength: f64,
}

/// The highest-ranked moments, and how many there were.
#[derive(Clone, Debug, Default)]
struct Best {
    kept: Vec<Ranked>,
    count: usize,
}

impl Best {
    fn push(&mut self, moment: Ranked) {
        self.count += 1;
        self.kept.push(moment);
        if self.kept.len() > KEPT {
            let lowest = (0..self.kept.len())
                .min_by(|&a, &b| self.kept[a].rank.total_cmp(&self.kept[b].rank));
            if let Some(lowest) = lowest {
                self.kept.remove(lowest);
            }
        }
    }
}

impl Best {
    /// The highest rank first.
    fn ranked(&self) -> Vec<Ranked> {
        let mut kept = self.kept.clone();
        kept.sort_by(|a, b| b.rank.total_cmp(&a.rank));
        kept
    }
}

/// Contacts of one seat.
#[derive(Clone, Debug)]
struct Contacts {
    inside: bool,
    found: Best,
}

impl Contacts {
    fn push(&mut self, time_s: f64, travel: f64, rate: f64, end_m: f64) {
        let touching = travel.abs() >= end_m;
        if touching && !self.inside {
            self.found.push(Ranked {
                at_s: time_s,
                upper: travel > 0.0,
                rank: rate.abs(),
                strength: 0.0,
            });
        }
        self.inside = touching;
    }
}

/// The largest magnitude of one quantity, and when.
#[derive(Clone, Copy, Debug, Default)]
struct Peak {
    size: f64,
    at_s: f64,
}

impl Peak {
    fn see(&mut self, value: f64, time_s: f64) {
        if value.abs() > self.size {
            *self = Self {
                size: value.abs(),
                at_s: time_s,
            };
        }
    }
}

/// Looks at every period.
#[derive(Clone, Debug)]
pub(super) struct EventLog {
    end_m: f64,
    modes: ModeLog,
    arrests: Best,
    open: Option<(Ranked, f64)>,
    law: Contacts,
    passive: Contacts,
    /// Floor, passive seat, law: acceleration; passive seat, law: travel.
    peaks: [Peak; 5],
}

const PEAKS: [(&str, &str, f64); 5] = [
    ("acceleration of the floor", "m/s²", 1.0),
    ("acceleration of the passive seat", "m/s²", 1.0),
    ("acceleration of the seat under the law", "m/s²", 1.0),
    ("travel of the passive seat", "mm", 1.0e3),
    ("travel of the seat under the law", "mm", 1.0e3),
];

impl EventLog {
    pub(super) fn new(end_m: f64) -> Self {
        // True at first: a seat that begins on its stop has not run into it.
        let contacts = Contacts {
            inside: true,
            found: Best::default(),
        };
        Self {
            end_m,
            modes: ModeLog::keeping(CHANGES, end_m),
            arrests: Best::default(),
            open: None,
            law: contacts.clone(),
            passive: contacts,
            peaks: [Peak::default(); 5],
        }
    }

    /// One period; `counts` when it belongs to the figures.
    pub(super) fn push(&mut self, s: &Sample, counts: bool) {
        self.modes
            .push(s.time_s, &s.drive, s.travel, s.passive_travel);
        self.law.push(s.time_s, s.travel, s.travel_rate, self.end_m);
        self.passive.push(
            s.time_s,
            s.passive_travel,
            s.passive_travel_rate,
            self.end_m,
        );
        self.push_arrest(s);
        if counts {
            let values = [
                s.floor.accel_mps2,
                s.passive_accel,
                s.seat_accel,
                s.passive_travel,
                s.travel,
            ];
            for (peak, value) in self.peaks.iter_mut().zip(values) {
                peak.see(value, s.time_s);
            }
        }
    }

    fn push_arrest(&mut self, s: &Sample) {
        let change = s.arrest_mps2().abs();
        if change > 0.0 {
            let fresh = Ranked {
                at_s: s.time_s,
                upper: s.travel > 0.0,
                rank: f64::NEG_INFINITY,
                strength: 0.0,
            };
            let (open, last_s) = self.open.get_or_insert((fresh, s.time_s));
            *last_s = s.time_s;
            open.strength = open.strength.max(change);
        }
        let Some((open, last_s)) = &mut self.open else {
            return;
        };
        let rank = s.travel.abs() - self.end_m;
        if rank > open.rank {
            (open.rank, open.at_s, open.upper) = (rank, s.time_s, s.travel > 0.0);
        }
        if s.time_s - *last_s > SILENCE_S {
            self.arrests.push(*open);
            self.open = None;
        }
    }

    /// Changes of mode and fault bits: when, mode, bits; and whether there were more.
    pub(super) fn modes(&self) -> &ModeLog {
        &self.modes
    }

    /// All moments in order of time, and a sentence on what was left out.
    pub(super) fn finish(mut self, summary: &Summary) -> (Vec<Event>, String) {
        if let Some((open, _)) = self.open.take() {
            self.arrests.push(open);
        }
        let mut events = faults(summary);
        events.extend(self.mode_changes().take(LISTED));
        events.extend(self.approaches());
        let both = [
            (&self.law, Kind::Contact, true),
            (&self.passive, Kind::PassiveContact, false),
        ];
        for (contacts, kind, slow) in both {
            let ranked = contacts.found.ranked();
            events.extend(ranked.iter().enumerate().map(|(place, c)| Event {
                at_s: c.at_s,
                kind,
                words: format!("{} stop met at {:.2} m/s", end(c.upper), c.rank),
                slow_s: slow.then_some(around(c.at_s)),
                foremost: slow && place < FOREMOST,
            }));
        }
        for (peak, (words, unit, scale)) in self.peaks.iter().zip(PEAKS) {
            if peak.size > 0.0 {
                let words = format!("largest {words}: {:.1} {unit}", scale * peak.size);
                events.push(plain(peak.at_s, Kind::Extreme, words));
            }
        }
        events.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
        (events, self.left_out())
    }

    fn left_out(&self) -> String {
        let mut parts = Vec::new();
        let all = [
            (&self.arrests, "arrests, the closest"),
            (&self.law.found, "contacts of the law, the hardest"),
            (
                &self.passive.found,
                "contacts of the passive seat, the hardest",
            ),
        ];
        for (best, words) in all {
            if best.count > best.kept.len() {
                parts.push(format!(
                    "of {} {words} {} are listed",
                    best.count,
                    best.kept.len()
                ));
            }
        }
        let changes = self.mode_changes().count() + self.modes.left_out;
        if changes > LISTED {
            parts.push(format!(
                "of {changes} changes of mode the first {LISTED} are listed"
            ));
        }
        parts.join("; ")
    }

    fn mode_changes(&self) -> impl Iterator<Item = Event> {
        let pairs = self.modes.changes.windows(2);
        pairs
            .filter(|pair| pair[0].mode != pair[1].mode)
            .map(|pair| {
                let [from, to] = [pair[0].mode, pair[1].mode].map(mode_name);
                plain(pair[1].time_s, Kind::Mode, format!("{from} to {to}"))
            })
    }

    fn approaches(&self) -> Vec<Event> {
        let kept = self.arrests.ranked();
        let event = |(place, a): (usize, &Ranked)| {
            let left_mm = -1.0e3 * a.rank;
            let left = if left_mm >= 0.0 {
                format!("{left_mm:.1} mm left")
            } else {
                format!("{:.1} mm into the bumper", -left_mm)
            };
            Event {
                at_s: a.at_s,
                kind: Kind::Arrest,
                words: format!(
                    "{} end, {left}; the arrest changed up to {:.1} m/s²",
                    end(a.upper),
                    a.strength
                ),
                slow_s: Some(around(a.at_s)),
                foremost: place < FOREMOST && -a.rank < CLOSE_M,
            }
        };
        kept.iter().enumerate().map(event).collect()
    }
}

fn plain(at_s: f64, kind: Kind, words: String) -> Event {
    Event {
        at_s,
        kind,
        words,
        slow_s: None,
        foremost: false,
    }
}

fn around(at_s: f64) -> [f64; 2] {
    [at_s - SLOW_S[0], at_s + SLOW_S[1]]
}

const fn end(upper: bool) -> &'static str {
    if upper { "upper" } else { "lower" }
}

/// What was put in, and what the firmware made of it.
fn faults(summary: &Summary) -> Vec<Event> {
    let mut events = Vec::new();
    for fault in &summary.faults {
        events.push(Event {
            at_s: fault.onset_s,
            kind: Kind::Fault,
            words: fault.fault.clone(),
            slow_s: Some([fault.onset_s - 0.2, fault.onset_s + 0.5]),
            foremost: true,
        });
        if let Some(after_s) = fault.noticed_after_s {
            let at_s = fault.onset_s + after_s;
            events.push(Event {
                at_s,
                kind: Kind::Answer,
                words: format!(
                    "{} noticed after {:.0} ms as: {}",
                    fault.name,
                    1.0e3 * after_s,
                    fault.noticed_as.join(", ")
                ),
                slow_s: Some(around(at_s)),
                foremost: true,
            });
        }
        if let Some(after_s) = fault.drive_off_after_s {
            let at_s = fault.onset_s + after_s;
            let words = format!("drive off {:.0} ms after {}", 1.0e3 * after_s, fault.name);
            events.push(Event {
                slow_s: Some(around(at_s)),
                foremost: true,
                ..plain(at_s, Kind::Answer, words)
            });
        }
    }
    events
}
