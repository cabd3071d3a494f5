//! What makes the modes change, in words: found from the steps of the graph, not written down.
//!
//! Every step is described by the thirteen conditions listed below. If no description ever leads
//! to two modes, the conditions are all that decides. For each change of mode the descriptions that
//! cause it are then covered by as few and as general products of conditions as a greedy
//! expansion finds (textbook two-level minimisation with many-valued inputs; what never happens is free).

use super::alphabet::{Heat, Height, Latching, Passing};
use super::graph::Step;
use firmware::Mode;
use firmware::supervise::Thresholds;
use std::collections::BTreeMap;

/// Number of conditions.
const COUNT: usize = 13;

/// Values of a condition in words: of each value and of what is better said together, by their bits.
struct Condition {
    values: u8,
    words: &'static [(u8, &'static str)],
}

impl Condition {
    /// Every value, by their bits.
    const fn all(&self) -> u8 {
        u8::MAX >> (8 - self.values)
    }
}

/// The conditions. Those that are to be left out of a guard first stand last.
const CONDITIONS: [Condition; COUNT] = [
    Condition {
        values: 8,
        words: &[
            (0b0000_0001, "no fault"),
            (0b0000_0010, "bearable fault"),
            (0b0000_0100, "grave passing fault"),
            (0b0000_1000, "stop circuit open"),
            (0b0001_0000, "one dispensable sensor lost"),
            (0b0010_0000, "travel sensor lost"),
            (0b0100_0000, "releasing fault"),
            (0b1000_0000, "hard fault"),
            (0b0000_0110, "passing fault"),
            (0b0000_1110, "passing fault or stop circuit open"),
            (0b0000_0111, "no fault or a passing one"),
            (0b0000_1111, "no latched fault"),
            (0b0001_0001, "no fault or one dispensable sensor lost"),
            (0b0011_0000, "travel or one dispensable sensor lost"),
            (0b0010_0010, "bearable fault or travel sensor lost"),
            (
                0b0011_0010,
                "bearable fault, travel or one dispensable sensor lost",
            ),
            (
                0b0011_0011,
                "no fault, a bearable one, travel or one dispensable sensor lost",
            ),
            (0b0111_0000, "any sensor lost or releasing fault"),
            (0b0111_0110, "any sensor lost, releasing or passing fault"),
            (
                0b0110_0110,
                "travel sensor lost, releasing or passing fault",
            ),
            (0b0100_0110, "releasing or passing fault"),
            (0b0100_0100, "releasing or grave passing fault"),
            (0b1111_0000, "latched fault"),
            (0b1111_1110, "any fault or stop circuit open"),
            (0b0111_1111, "no hard fault"),
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
        words: &[(0b01, "on the lower stop"), (0b10, "afloat")],
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
        words: &[(0b01, "release_s not over"), (0b10, "release_s over")],
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

/// What stands in a step: the value of the first condition.
fn standing(step: &Step<'_>) -> u8 {
    let latching = Latching::of(step.faults);
    let passing = Passing::of(step.faults);
    let stop_open = !step.letter.stop_closed;
    match (latching, passing) {
        (Latching::None, _) if stop_open => 3,
        (Latching::None, Passing::None) => 0,
        (Latching::None, Passing::Bearable) => 1,
        (Latching::None, Passing::Grave) => 2,
        (Latching::Hard, _) | (_, Passing::Bearable | Passing::Grave) => 7,
        (_, Passing::None) if stop_open => 7,
        (Latching::Releasing, _) => 6,
        (Latching::Travel, _) => 5,
        _ => 4,
    }
}

/// Steps described by conditions.
pub struct Guards {
    /// What followed on each description, by [`index`]: a table, for it is looked into at every step.
    next: Vec<Option<Mode>>,
    /// Descriptions that led to two modes: none, when the conditions are all that decides.
    pub undecided: u64,
}

impl Default for Guards {
    fn default() -> Self {
        let modes = (0..=u8::MAX).map_while(Mode::from_code).count();
        let points: usize = CONDITIONS.iter().map(|c| usize::from(c.values)).product();
        Self {
            next: vec![None; modes * points],
            undecided: 0,
        }
    }
}

/// Place of a description in the table.
fn index(mode: Mode, point: &Point) -> usize {
    let digits = point.iter().zip(&CONDITIONS);
    digits.fold(mode.code().into(), |n, (value, condition)| {
        n * usize::from(condition.values) + usize::from(*value)
    })
}

/// The description at a place of the table.
fn description(mut index: usize) -> Option<(Mode, Point)> {
    let mut point = Point::default();
    for (value, condition) in point.iter_mut().zip(&CONDITIONS).rev() {
        let values = usize::from(condition.values);
        *value = u8::try_from(index % values).ok()?;
        index /= values;
    }
    Some((Mode::from_code(u8::try_from(index).ok()?)?, point))
}

impl Guards {
    /// Takes note of a step.
    pub fn note(&mut self, step: &Step<'_>, at: &Thresholds) {
        let before = step.from.state;
        let counts = before.counts();
        let letter = step.letter;
        let point = [
            standing(step),
            step.to.state.armed().into(),
            step.permit.seated.into(),
            letter.risen().into(),
            (letter.height != Height::Resting).into(),
            (before.mode() == Mode::Rise && counts.in_mode >= at.rise_max).into(),
            match letter.heat {
                Heat::Low => 0,
                Heat::Middle => 1,
                Heat::High => 2,
            },
            (before.force() == 0).into(),
            (step.to.state.counts().fault_gone_for >= at.clear).into(),
            (before.mode() == Mode::Derated && counts.in_mode >= at.clear).into(),
            (before.mode() == Mode::Release && counts.in_mode >= at.release).into(),
            letter.beyond.into(),
            (before.mode() == Mode::Beyond && step.to.state.counts().proved_for >= at.clear).into(),
        ];
        let mode = step.permit.mode;
        let followed = self.next[index(before.mode(), &point)].get_or_insert(mode);
        self.undecided += u64::from(*followed != mode);
    }

    /// Every change of mode, with the guards that cause it.
    #[must_use]
    pub fn changes(&self) -> Vec<(Mode, Mode, Vec<String>)> {
        let mut by_change: BTreeMap<(Mode, Mode), Vec<Point>> = BTreeMap::new();
        for (place, to) in self.next.iter().enumerate() {
            if let (Some(to), Some((from, point))) = (to, description(place)) {
                by_change.entry((from, *to)).or_default().push(point);
            }
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
                // What never happens in this mode is not worth a word.
                let mut met = Product::default();
                for point in points.iter().chain(&others) {
                    for (met, value) in met.iter_mut().zip(point) {
                        *met |= 1 << value;
                    }
                }
                let products = cover(points, &others);
                let said = products.iter().map(|product| words(product, &met));
                (*from, *to, said.collect())
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
            let all = CONDITIONS[place].all();
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
    // Nor a fault in one product that another has.
    for place in 0..products.len() {
        if products[place][0] == CONDITIONS[0].all() {
            continue;
        }
        for value in 0..CONDITIONS[0].values {
            let kept = products[place];
            products[place][0] &= !(1 << value);
            let all_do = |point| products.iter().any(|product| holds(product, point));
            if !points.iter().all(all_do) {
                products[place] = kept;
            }
        }
    }
    products
}

/// A product in words, in a mode in which of each condition the values `met` occur.
fn words(product: &Product, met: &Product) -> String {
    let said: Vec<String> = product
        .iter()
        .zip(met)
        .zip(&CONDITIONS)
        .map(|((allowed, met), condition)| (allowed & met, *met, condition))
        .filter(|(allowed, met, _)| allowed != met)
        .map(|(allowed, _, condition)| condition.say(allowed))
        .collect();
    if said.is_empty() {
        "always".to_owned()
    } else {
        said.join(", ")
    }
}

impl Condition {
    /// A set of values in words.
    fn say(&self, set: u8) -> String {
        let exact = self.words.iter().find(|(said, _)| *said == set);
        if let Some((_, words)) = exact {
            return (*words).to_owned();
        }
        let singles = self
            .words
            .iter()
            .filter(|(said, _)| said.is_power_of_two() && said & set != 0);
        singles
            .map(|(_, words)| *words)
            .collect::<Vec<_>>()
            .join(" or ")
    }
}
