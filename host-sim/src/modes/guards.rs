//! What makes the modes change, in words: found from the steps of the graph, not written down.
//!
//! Every step is described by the eleven conditions listed below. If no description ever leads
//! to two modes, the conditions are all that decides. For each change of mode the descriptions that
//! cause it are then covered by as few and as general products of conditions as a greedy
//! expansion finds (textbook two-level minimisation with many-valued inputs; what never happens is free).

use super::alphabet::Heat;
use super::graph::Step;
use firmware::Mode;
use firmware::supervise::Thresholds;
use std::collections::BTreeMap;

/// Number of conditions.
const COUNT: usize = 11;

/// Values of a condition in words: for each set of values that can stand in a guard, by its bits.
struct Condition {
    values: u8,
    words: &'static [(u8, &'static str)],
}

/// The conditions. Those that are to be left out of a guard first stand last.
const CONDITIONS: [Condition; COUNT] = [
    Condition {
        values: 3,
        words: &[
            (0b001, "no fault"),
            (0b010, "passing fault or stop circuit open"),
            (0b100, "latching fault"),
            (0b110, "any fault or stop circuit open"),
            (0b011, "no latching fault"),
            (0b101, "no passing fault alone"),
        ],
    },
    Condition {
        values: 2,
        words: &[(0b01, "disarmed"), (0b10, "armed")],
    },
    Condition {
        values: 2,
        words: &[(0b01, "seat empty"), (0b10, "seated")],
    },
    Condition {
        values: 2,
        words: &[(0b01, "not risen"), (0b10, "risen")],
    },
    Condition {
        values: 2,
        words: &[(0b01, "rise_max_s not over"), (0b10, "rise_max_s over")],
    },
    Condition {
        values: 3,
        words: &[
            (0b001, "heat share below derated_below"),
            (0b010, "heat share between its limits"),
            (0b100, "heat share above active_above"),
            (0b011, "heat share not above active_above"),
            (0b110, "heat share not below derated_below"),
            (0b101, "heat share outside its limits"),
        ],
    },
    Condition {
        values: 2,
        words: &[(0b01, "force not faded"), (0b10, "force faded")],
    },
    Condition {
        values: 2,
        words: &[(0b01, "clear_s not over"), (0b10, "no fault for clear_s")],
    },
    Condition {
        values: 2,
        words: &[
            (0b01, "Derated for less than clear_s"),
            (0b10, "Derated for clear_s"),
        ],
    },
    Condition {
        values: 2,
        words: &[
            (0b01, "all assumptions of the proof hold"),
            (0b10, "an assumption of the proof does not hold"),
        ],
    },
    Condition {
        values: 2,
        words: &[
            (
                0b01,
                "all assumptions of the proof have held for less than clear_s",
            ),
            (0b10, "all assumptions of the proof have held for clear_s"),
        ],
    },
];

type Point = [u8; COUNT];

/// A product of conditions: of each the values that it allows, by their bits.
type Product = [u8; COUNT];

fn holds(product: &Product, point: &Point) -> bool {
    product
        .iter()
        .zip(point)
        .all(|(allowed, value)| allowed >> value & 1 == 1)
}

/// Steps described by conditions.
#[derive(Default)]
pub struct Guards {
    next: BTreeMap<(Mode, Point), Mode>,
    /// Descriptions that led to two modes: none, when the conditions are all that decides.
    pub undecided: u64,
}

impl Guards {
    /// Takes note of a step.
    pub fn note(&mut self, step: &Step<'_>, at: &Thresholds) {
        let before = step.from.state;
        let counts = before.counts();
        let letter = step.letter;
        let fault = if step.faults.latching().any() {
            2
        } else {
            u8::from(step.faults.any() || !letter.stop_closed)
        };
        let point = [
            fault,
            step.to.state.armed().into(),
            step.permit.seated.into(),
            letter.risen().into(),
            (before.mode() == Mode::Rise && counts.in_mode >= at.rise_max).into(),
            match letter.heat {
                Heat::Low => 0,
                Heat::Middle => 1,
                Heat::High => 2,
            },
            (before.force() == 0).into(),
            (step.to.state.counts().fault_gone_for >= at.clear).into(),
            (before.mode() == Mode::Derated && counts.in_mode >= at.clear).into(),
            letter.beyond.into(),
            (before.mode() == Mode::Beyond && step.to.state.counts().proved_for >= at.clear).into(),
        ];
        let mode = step.permit.mode;
        if *self.next.entry((before.mode(), point)).or_insert(mode) != mode {
            self.undecided += 1;
        }
    }

    /// Every change of mode, with the guards that cause it.
    #[must_use]
    pub fn changes(&self) -> Vec<(Mode, Mode, Vec<String>)> {
        let mut by_change: BTreeMap<(Mode, Mode), Vec<Point>> = BTreeMap::new();
        for ((from, point), to) in &self.next {
            by_change.entry((*from, *to)).or_default().push(*point);
        }
        by_change
            .iter()
            .filter(|((from, to), _)| from != to)
            .map(|((from, to), points)| {
                let others: Vec<Point> = by_change
                    .iter()
                    .filter(|((a, b), _)| a == from && b != to)
                    .flat_map(|(_, points)| points.iter().copied())
                    .collect();
                let words = cover(points, &others).iter().map(words).collect();
                (*from, *to, words)
            })
            .collect()
    }
}

/// Products that hold at all of `points` and at none of `others`.
fn cover(points: &[Point], others: &[Point]) -> Vec<Product> {
    let mut products: Vec<Product> = Vec::new();
    for point in points {
        if products.iter().any(|product| holds(product, point)) {
            continue;
        }
        let mut product: Product = point.map(|value| 1 << value);
        let free = |product: &Product| !others.iter().any(|other| holds(product, other));
        for place in (0..COUNT).rev() {
            let all = (1_u8 << CONDITIONS[place].values) - 1;
            let singles = (0..CONDITIONS[place].values).map(|value| product[place] | 1 << value);
            for wider in [all].into_iter().chain(singles.collect::<Vec<_>>()) {
                let kept = product[place];
                product[place] |= wider;
                if !free(&product) {
                    product[place] = kept;
                }
            }
        }
        products.push(product);
    }
    // What the others cover together is not needed.
    let mut place = 0;
    while place < products.len() {
        let others_do = points.iter().all(|point| {
            products
                .iter()
                .enumerate()
                .any(|(n, product)| n != place && holds(product, point))
        });
        if others_do {
            products.remove(place);
        } else {
            place += 1;
        }
    }
    products
}

fn words(product: &Product) -> String {
    let said: Vec<&str> = product
        .iter()
        .zip(&CONDITIONS)
        .filter_map(|(allowed, condition)| {
            let (_, words) = condition.words.iter().find(|(set, _)| set == allowed)?;
            Some(*words)
        })
        .collect();
    if said.is_empty() {
        "always".to_owned()
    } else {
        said.join(", ")
    }
}
