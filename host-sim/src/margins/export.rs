//! The linear loop as a file: JSON, matrices as rows.

use super::limits::Worst;
use super::linearise::linearise;
use super::loops::{Break, ClosedLoop, LawResponse};
use super::margin::{self, Margins};
use super::plant_model::LinearPlant;
use super::point::{Bench, Point};
use super::state_space::StateSpace;
use super::study::{Found, StudyError};
use super::vary::Truth;
use nalgebra::DMatrix;
use serde::Serialize;

/// One system: `x+ = a x + b u`, `y = c x + d u`.
#[derive(Clone, Debug, Serialize)]
pub struct System {
    /// Names of the inputs.
    pub inputs: Vec<String>,
    /// Names of the outputs.
    pub outputs: Vec<String>,
    /// Names of the states.
    pub states: Vec<String>,
    /// Rows of `a`.
    pub a: Vec<Vec<f64>>,
    /// Rows of `b`.
    pub b: Vec<Vec<f64>>,
    /// Rows of `c`.
    pub c: Vec<Vec<f64>>,
    /// Rows of `d`.
    pub d: Vec<Vec<f64>>,
}

/// The whole loop at one operating point.
#[derive(Clone, Debug, Serialize)]
pub struct Export {
    /// What this is.
    pub format: &'static str,
    /// Time from sample to sample, s: one control period, or two where the law repeats after two.
    pub sample_time_s: f64,
    /// Control periods in it. With two, inputs and outputs stand one period below the other.
    pub periods: usize,
    /// The operating point.
    pub point: Point,
    /// The law: readings in, current command out.
    pub law: System,
    /// The plant: current command in, readings out, delay and sensors included.
    pub plant: System,
    /// The margins that Becalm finds, in the order of `places`.
    pub margins: [Margins; 4],
    /// Where the loop is broken.
    pub places: [&'static str; 4],
    /// Largest magnitude of the closed loop's poles, a control period.
    pub largest_pole: f64,
    /// Worst of the margins.
    pub worst: Worst,
}

fn rows(m: &DMatrix<f64>) -> Vec<Vec<f64>> {
    m.row_iter()
        .map(|row| row.iter().copied().collect())
        .collect()
}

fn system(
    s: &StateSpace,
    inputs: &[&str],
    outputs: &[&str],
    states: Vec<String>,
    periods: usize,
) -> System {
    let names = |list: &[&str]| -> Vec<String> {
        (0..periods)
            .flat_map(|k| {
                list.iter().map(move |name| {
                    if periods == 1 {
                        (*name).to_owned()
                    } else {
                        format!("{name}, period {k}")
                    }
                })
            })
            .collect()
    };
    System {
        inputs: names(inputs),
        outputs: names(outputs),
        states,
        a: rows(&s.a),
        b: rows(&s.b),
        c: rows(&s.c),
        d: rows(&s.d),
    }
}

/// Names of the plant's states.
fn plant_states(total: usize, sprung: usize) -> Vec<String> {
    let mut names = vec!["travel, m".to_owned(), "travel rate, m/s".to_owned()];
    for i in 1..=sprung {
        names.push(format!("sprung mass {i} on the seat, m"));
        names.push(format!("sprung mass {i} on the seat, m/s"));
    }
    names.push("current, A".to_owned());
    let line = total - names.len() - 3;
    names.extend((1..=line).map(|i| format!("command of {i} periods ago, A")));
    names.extend(
        [
            "floor accelerometer, m/s2",
            "seat accelerometer, m/s2",
            "travel sensor, m",
        ]
        .map(str::to_owned),
    );
    names
}

/// The loop at a point.
///
/// # Errors
/// A parameter that cannot be used, or a point that does not rest.
pub fn export(bench: &Bench, point: &Point) -> Result<Export, StudyError> {
    let law =
        linearise(&bench.parameters_at(point), &bench.law_point(point)?).map_err(|source| {
            StudyError::Law {
                place: point.words(),
                source,
            }
        })?;
    let machine = Truth::of(&bench.rig).machine(bench, point);
    let plant = LinearPlant::new(&machine);
    let response = LawResponse::new(&law);
    let closed = ClosedLoop {
        law: &response,
        plant: &plant,
    };
    let margins = margin::margins(&closed, machine.step_s);
    let found = Found {
        point: *point,
        margins,
        largest_pole: closed.largest_pole(),
        law_states: response.states(),
        law_period: law.steps.len(),
    };
    let periods = law.steps.len();
    let one = plant.system();
    let (whole_law, whole_plant) = match &law.steps[..] {
        [first, second] => (first.then(second), one.then(&one)),
        _ => (law.steps[0].clone(), one.clone()),
    };
    let readings = [
        "floor acceleration, m/s2",
        "seat acceleration, m/s2",
        "travel, m",
    ];
    let sprung = machine
        .body
        .sprung
        .iter()
        .filter(|s| s.mass_kg > 0.0)
        .count();
    let law_states = (1..=response.states())
        .map(|i| format!("law {i}"))
        .collect();
    Ok(Export {
        format: "becalm linear loop 1: x+ = a x + b u, y = c x + d u; matrices as rows",
        sample_time_s: periods as f64 * machine.step_s,
        periods,
        point: *point,
        law: system(
            &whole_law,
            &readings,
            &["current command, A"],
            law_states,
            periods,
        ),
        plant: system(
            &whole_plant,
            &["current command, A"],
            &readings,
            plant_states(one.a.nrows(), sprung),
            periods,
        ),
        margins,
        places: Break::ALL.map(Break::name),
        largest_pole: found.largest_pole,
        worst: Worst::of(std::iter::once(&found)),
    })
}
