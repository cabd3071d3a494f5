//! What a broken sensor makes of its reading: before the converter in real counts, behind it in whole ones.

use super::injection::Running;
use super::kind::SensorFault;
use crate::sensors::{Chance, Quantity};
use std::collections::VecDeque;

/// What one broken sensor remembers.
#[derive(Clone)]
pub(super) struct Memory {
    chance: Chance,
    held: i32,
    past: VecDeque<i32>,
}

impl Memory {
    /// `stream` keeps the chance of one fault apart from that of others.
    pub(super) fn new(seed: u64, stream: u64) -> Self {
        Self {
            chance: Chance::new(seed, stream),
            held: 0,
            past: VecDeque::new(),
        }
    }
}

/// What the converter sees of a reading of `counts`, `since` periods after the onset.
/// `per_unit`: counts for one unit of the quantity.
pub(super) fn before_converter(
    running: &mut Running,
    fault: SensorFault,
    counts: f64,
    per_unit: f64,
    since: u64,
    step_s: f64,
) -> f64 {
    let size = running.fault.size;
    match fault {
        SensorFault::Bias => counts + size * per_unit,
        SensorFault::Drift => counts + size * per_unit * (since as f64 * step_s),
        SensorFault::Gain => counts * size,
        SensorFault::Noise => counts + size * per_unit * running.memory.chance.normal(),
        SensorFault::Spikes => {
            let (turn, rest) = (since / running.every, since % running.every);
            match (rest, turn % 2) {
                (0, 0) => counts + size * per_unit,
                (0, _) => counts - size * per_unit,
                _ => counts,
            }
        }
        _ => counts,
    }
}

/// What a frame shows of the converter's `counts`. `since`: periods since the onset, `None` while the fault
/// does not act: then only what it must remember is kept.
pub(super) fn behind_converter(
    running: &mut Running,
    (quantity, fault): (Quantity, SensorFault),
    counts: i32,
    per_unit: f64,
    since: Option<u64>,
    step_s: f64,
) -> i32 {
    let size = running.fault.size;
    let memory = &mut running.memory;
    if fault == SensorFault::Delayed {
        let late = (size / step_s).round() as usize;
        memory.past.push_back(counts);
        while memory.past.len() > late + 1 {
            memory.past.pop_front();
        }
    }
    let Some(since) = since else {
        memory.held = counts;
        return counts;
    };
    match fault {
        SensorFault::Dead => 0,
        SensorFault::Stuck => {
            // Nothing was read before the first period.
            if since == 0 && running.start == 0 {
                memory.held = counts;
            }
            memory.held
        }
        SensorFault::Stale => {
            if since.is_multiple_of(running.every) {
                memory.held = counts;
            }
            memory.held
        }
        SensorFault::Sign => -counts,
        SensorFault::Saturated => {
            let most = (size * per_unit).round() as i32;
            let least = if quantity == Quantity::Supply {
                0
            } else {
                -most
            };
            counts.clamp(least, most)
        }
        SensorFault::Coarse => counts & (-1 << (size.round() as u32)),
        SensorFault::Delayed => memory.past.front().copied().unwrap_or(counts),
        _ => counts,
    }
}
