//! The deepest chain of calls from a function, and how much stack it takes.

use super::disassembly::Disassembly;
use super::frame::{Frame, frame};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

/// One function of a chain.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ChainFrame {
    /// Its name.
    pub function: String,
    /// Its stack when it calls the next of the chain; for the last of the chain its deepest, bytes.
    pub bytes: u32,
}

/// What makes a bound uncertain.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Unknown {
    /// The function.
    pub function: String,
    /// Address of the instruction.
    pub address: u32,
    /// The instruction and why it cannot be followed.
    pub reason: String,
}

impl fmt::Display for Unknown {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{} at {:#x}: {}",
            self.function, self.address, self.reason
        )
    }
}

/// The stack of a function with all that it calls. Interrupts come on top.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Stack {
    /// Deepest that can be told, bytes; a bound only when nothing is unknown.
    pub bytes: u32,
    /// The chain of calls that is deepest, outermost first.
    pub chain: Vec<ChainFrame>,
    /// What cannot be followed: unknown calls, stack that is not static, recursion.
    pub unknown: Vec<Unknown>,
}

impl Stack {
    /// Bytes that can never be exceeded; `None` when something is unknown.
    #[must_use]
    pub fn bound(&self) -> Option<u32> {
        self.unknown.is_empty().then_some(self.bytes)
    }

    /// The stack of the function of this index.
    #[must_use]
    pub fn of(code: &Disassembly, root: usize) -> Self {
        let mut graph = Graph {
            code,
            frames: BTreeMap::new(),
            deepest: BTreeMap::new(),
            within: Vec::new(),
            unknown: BTreeSet::new(),
        };
        let bytes = graph.deepest(root);
        Self {
            bytes: bytes_of(bytes),
            chain: graph.chain(root),
            unknown: graph.unknown.into_iter().collect(),
        }
    }
}

fn bytes_of(depth: i64) -> u32 {
    u32::try_from(depth.max(0)).unwrap_or(u32::MAX)
}

/// Deepest point of a function with all it calls, and the call that leads there with its depth.
type Deepest = (i64, Option<(i64, usize)>);

struct Graph<'a> {
    code: &'a Disassembly,
    frames: BTreeMap<usize, Frame>,
    deepest: BTreeMap<usize, Deepest>,
    within: Vec<usize>,
    unknown: BTreeSet<Unknown>,
}

impl Graph<'_> {
    fn name(&self, index: usize) -> String {
        let function = self.code.functions().get(index);
        function.map_or_else(String::new, |f| f.name.clone())
    }

    fn note(&mut self, index: usize, address: u32, reason: String) {
        let function = self.name(index);
        self.unknown.insert(Unknown {
            function,
            address,
            reason,
        });
    }

    fn deepest(&mut self, index: usize) -> i64 {
        if let Some((known, _)) = self.deepest.get(&index) {
            return *known;
        }
        let functions = self.code.functions();
        let Some(function) = functions.get(index) else {
            return 0;
        };
        let own = frame(function, functions.get(index + 1).map(|f| f.address));
        for (address, reason) in &own.unknown {
            self.note(index, *address, reason.clone());
        }
        self.within.push(index);
        let mut deepest: Deepest = (own.deepest, None);
        for call in &own.calls {
            let Some(callee) = self.code.at(call.target) else {
                let reason = format!("a call to {:#x}: no function there", call.target);
                self.note(index, function.address, reason);
                continue;
            };
            if let Some(from) = self.within.iter().position(|w| *w == callee) {
                let ring: Vec<String> = self.within[from..].iter().map(|i| self.name(*i)).collect();
                let reason = format!("recursion: {} -> {}", ring.join(" -> "), self.name(callee));
                self.note(index, function.address, reason);
                continue;
            }
            let bytes = call.depth + self.deepest(callee);
            if bytes > deepest.0 {
                deepest = (bytes, Some((call.depth, callee)));
            }
        }
        self.within.pop();
        self.frames.insert(index, own);
        self.deepest.insert(index, deepest);
        deepest.0
    }

    fn chain(&self, root: usize) -> Vec<ChainFrame> {
        let mut chain = Vec::new();
        let mut next = Some(root);
        while let Some(index) = next {
            let call = self.deepest.get(&index).and_then(|(_, call)| *call);
            let own = self.frames.get(&index).map_or(0, |f| f.deepest);
            chain.push(ChainFrame {
                function: self.name(index),
                bytes: bytes_of(call.map_or(own, |(depth, _)| depth)),
            });
            next = call.map(|(_, callee)| callee);
        }
        chain
    }
}
