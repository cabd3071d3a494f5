//! How deep one function's stack is, and where it calls.
//!
//! The depth is followed along every way through the function. Where two ways meet, the deeper counts.

use super::disassembly::{Function, Instruction};
use super::instruction::{Effect, Flow, Growth, effect};
use std::collections::BTreeMap;

/// How often a depth may grow at one instruction before it counts as without bound.
const GROWS: u32 = 64;

/// Instructions before a jump into a table in which its place is reckoned.
const TABLE_REACH: usize = 8;

/// A call, or a branch to another function.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Call {
    /// Depth of the caller's stack at the call, bytes.
    pub(super) depth: i64,
    /// Address called.
    pub(super) target: u32,
}

/// What is known of a function's stack.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Frame {
    /// Deepest point, without what it calls, bytes.
    pub(super) deepest: i64,
    /// Calls.
    pub(super) calls: Vec<Call>,
    /// What cannot be followed: address and reason.
    pub(super) unknown: Vec<(u32, String)>,
}

struct Walk<'a> {
    instructions: &'a [Instruction],
    depths: Vec<Option<i64>>,
    grown: Vec<u32>,
    open: Vec<usize>,
    frame: Frame,
    unknown: BTreeMap<u32, String>,
    calls: BTreeMap<(usize, u32), i64>,
    table_depth: Option<i64>,
}

impl Walk<'_> {
    /// A way leads to an instruction at a depth.
    fn reach(&mut self, index: usize, depth: i64) {
        let (Some(known), Some(grown)) = (self.depths.get_mut(index), self.grown.get_mut(index))
        else {
            return;
        };
        if known.is_some_and(|k| k >= depth) {
            return;
        }
        *known = Some(depth);
        *grown += 1;
        if *grown <= GROWS {
            self.open.push(index);
        } else if let Some(at) = self.instructions.get(index) {
            let reason = "the stack grows in a loop".to_owned();
            self.unknown.insert(at.address, reason);
        }
    }

    fn call(&mut self, index: usize, target: u32, depth: i64) {
        let deepest = self.calls.entry((index, target)).or_insert(depth);
        *deepest = (*deepest).max(depth);
    }

    /// A branch: within the function, or a call from which the caller does not come back.
    fn branch(&mut self, index: usize, target: u32, depth: i64) {
        match self
            .instructions
            .binary_search_by_key(&target, |i| i.address)
        {
            Ok(inside) => self.reach(inside, depth),
            Err(_) => self.call(index, target, depth),
        }
    }

    /// Whether `mov pc, rX` jumps into a table of branches right behind it, whose place was reckoned shortly before
    /// by `addw rX, pc, #n` and `add.w rX, rX, rY, lsl #2`, with nothing else between that writes rX.
    fn is_branch_table(&self, index: usize) -> bool {
        let read = |at: usize| {
            let instruction = self.instructions.get(at)?;
            let base = instruction.mnemonic.split('.').next()?;
            Some((base, instruction.operands.split(", ").collect::<Vec<_>>()))
        };
        let Some(("mov", to)) = read(index) else {
            return false;
        };
        let &["pc", register] = to.as_slice() else {
            return false;
        };
        // The newest first: what writes the register.
        let mut writes = (1..=TABLE_REACH)
            .map_while(|back| read(index.checked_sub(back)?))
            .filter(|(_, operands)| operands.first() == Some(&register));
        let (Some((step, by)), Some((place, from))) = (writes.next(), writes.next()) else {
            return false;
        };
        step == "add"
            && matches!(by.as_slice(), [_, b, _, "lsl #2"] if *b == register)
            && place == "addw"
            && matches!(from.as_slice(), [_, "pc", _])
    }

    fn step(&mut self, index: usize, after: Option<u32>) {
        let (Some(here), Some(Some(depth))) = (
            self.instructions.get(index),
            self.depths.get(index).copied(),
        ) else {
            return;
        };
        let Effect {
            growth,
            flow,
            conditional,
        } = effect(here);
        let text = format!("{} {}", here.mnemonic, here.operands);
        let grown = match growth {
            Growth::Bytes(bytes) => depth + bytes,
            Growth::Unknown => {
                let reason = format!("{text}: the stack is not static");
                self.unknown.insert(here.address, reason);
                depth
            }
        };
        self.frame.deepest = self.frame.deepest.max(grown);
        let next = if conditional { depth.max(grown) } else { grown };
        let mut on = conditional;
        let flow = match flow {
            Flow::UnknownBranch if self.is_branch_table(index) => Flow::Table,
            other => other,
        };
        match flow {
            Flow::Next => on = true,
            Flow::Return | Flow::Stop => {}
            Flow::Branch(target) => self.branch(index, target, grown),
            Flow::Call(target) => {
                self.call(index, target, grown);
                on = true;
            }
            Flow::UnknownCall => {
                let reason = format!("{text}: the function called is not known");
                self.unknown.insert(here.address, reason);
                on = true;
            }
            Flow::UnknownBranch => {
                let reason = format!("{text}: where it leads is not known");
                self.unknown.insert(here.address, reason);
            }
            Flow::Table => {
                self.table_depth = Some(self.table_depth.map_or(grown, |d| d.max(grown)));
            }
        }
        if on && index + 1 < self.instructions.len() {
            self.reach(index + 1, next);
        } else if let (true, Some(after)) = (on && !ends(here), after) {
            self.call(index, after, next);
        }
    }
}

/// Whether the last instruction of a function leads to the next function only in appearance: what it calls
/// never returns, or it fills a gap.
fn ends(last: &Instruction) -> bool {
    last.mnemonic.starts_with("bl")
        || last.mnemonic.starts_with("nop")
        || (last.mnemonic == "movs" && last.operands == "r0, r0")
}

/// Whether the last instruction of a function is what the linker fills a gap with: it stands behind a trap or a branch, and
/// would branch into the middle of an instruction.
fn is_fill(instructions: &[Instruction], index: usize) -> bool {
    let (Some(last), Some(before)) = (
        instructions.get(index),
        index.checked_sub(1).and_then(|n| instructions.get(n)),
    ) else {
        return false;
    };
    let Flow::Branch(target) = effect(last).flow else {
        return false;
    };
    let within = instructions.binary_search_by_key(&target, |i| i.address);
    let before = effect(before);
    let goes_on = before.conditional || !matches!(before.flow, Flow::Stop | Flow::Branch(_));
    index + 1 == instructions.len() && !goes_on && within.is_err()
}

/// Follows every way through a function. `after` is the address of the next function.
///
/// The entries of a jump table are not read. Whatever no other way reaches is taken to be reached from a
/// table, at the deepest stack of any: never too little.
pub(super) fn frame(function: &Function, after: Option<u32>) -> Frame {
    let count = function.instructions.len();
    let mut walk = Walk {
        instructions: &function.instructions,
        depths: vec![None; count],
        grown: vec![0; count],
        open: Vec::new(),
        frame: Frame::default(),
        unknown: BTreeMap::new(),
        calls: BTreeMap::new(),
        table_depth: None,
    };
    walk.reach(0, 0);
    loop {
        while let Some(index) = walk.open.pop() {
            walk.step(index, after);
        }
        let unreached = walk
            .depths
            .iter()
            .zip(walk.instructions)
            .position(|(depth, i)| depth.is_none() && effect(i).flow != Flow::Stop)
            .filter(|&index| !is_fill(walk.instructions, index));
        match (unreached, walk.table_depth) {
            (Some(index), Some(depth)) => walk.reach(index, depth),
            _ => break,
        }
    }
    walk.frame.calls = walk
        .calls
        .into_iter()
        .map(|((_, target), depth)| Call { depth, target })
        .collect();
    walk.frame.unknown = walk.unknown.into_iter().collect();
    walk.frame
}
