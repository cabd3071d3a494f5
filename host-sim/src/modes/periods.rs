//! How fast modes can follow each other: shortest ways through the graph, over all sequences of inputs.

use super::graph::{ANY, Classes, Graph, PROVED};
use firmware::Mode;
use std::collections::BTreeMap;

/// A change from one mode to another.
pub type Change = (Mode, Mode);

/// Of every change of mode that can go on coming for ever, the fewest steps from one to the next: the shortest
/// circle of states with this change on it, under letters of `classes`.
#[must_use]
pub fn repeated(graph: &Graph, classes: Classes) -> BTreeMap<Change, u32> {
    let mut found = BTreeMap::new();
    for (start, before) in entries(graph, classes) {
        let far = distances(graph, &[start], classes);
        for from in before {
            if let Some(steps) = far[from].map(|steps| steps + 1) {
                let least = found
                    .entry((graph.mode(from), graph.mode(start)))
                    .or_insert(steps);
                *least = steps.min(*least);
            }
        }
    }
    found
}

/// Of every change of mode, the fewest steps until the same change comes once more, whatever state the first one
/// led to.
#[must_use]
pub fn once_more(graph: &Graph, classes: Classes) -> BTreeMap<Change, u32> {
    let mut ends: BTreeMap<Change, (Vec<usize>, Vec<usize>)> = BTreeMap::new();
    for (to, before) in entries(graph, classes) {
        for from in before {
            let (befores, afters) = ends.entry((graph.mode(from), graph.mode(to))).or_default();
            befores.push(from);
            afters.push(to);
        }
    }
    ends.into_iter()
        .filter_map(|(change, (befores, afters))| {
            let far = distances(graph, &afters, classes);
            let steps = befores.into_iter().filter_map(|from| far[from]).min()?;
            Some((change, steps + 1))
        })
        .collect()
}

/// Fewest steps from one that ends in Beyond and sees an assumption of the proof that does not hold, to Active,
/// through Beyond alone.
#[must_use]
pub fn soonest_back(graph: &Graph) -> Option<u32> {
    let mut open: Vec<usize> = (0..graph.states.len())
        .flat_map(|from| graph.next(from, !PROVED))
        .filter(|to| graph.mode(*to) == Mode::Beyond)
        .collect();
    let mut seen = vec![false; graph.states.len()];
    for steps in 1.. {
        let mut then = Vec::new();
        for to in open.iter().flat_map(|from| graph.next(*from, ANY)) {
            match graph.mode(to) {
                Mode::Active => return Some(steps),
                Mode::Beyond if !core::mem::replace(&mut seen[to], true) => then.push(to),
                _ => {}
            }
        }
        if then.is_empty() {
            break;
        }
        open = then;
    }
    None
}

/// States that are entered with a change of mode, and the states before them.
fn entries(graph: &Graph, classes: Classes) -> BTreeMap<usize, Vec<usize>> {
    let mut entries: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for from in 0..graph.states.len() {
        for to in graph.next(from, classes) {
            if graph.mode(from) != graph.mode(to) {
                entries.entry(to).or_default().push(from);
            }
        }
    }
    entries
}

/// Fewest steps from any of `starts` to every state.
fn distances(graph: &Graph, starts: &[usize], classes: Classes) -> Vec<Option<u32>> {
    let mut far = vec![None; graph.states.len()];
    for &start in starts {
        far[start] = Some(0);
    }
    let mut now = starts.to_vec();
    let mut steps = 0;
    while !now.is_empty() {
        steps += 1;
        let mut then = Vec::new();
        for from in now {
            for to in graph.next(from, classes) {
                if far[to].is_none() {
                    far[to] = Some(steps);
                    then.push(to);
                }
            }
        }
        now = then;
    }
    far
}
