//! What one instruction does to the stack and where it leads.

use super::disassembly::Instruction;

/// What an instruction does to the stack pointer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Growth {
    /// The stack grows by so many bytes.
    Bytes(i64),
    /// By an amount that only the running core knows.
    Unknown,
}

/// Where an instruction leads.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Flow {
    /// To the next.
    Next,
    /// To the caller.
    Return,
    /// To an address.
    Branch(u32),
    /// To an address and back.
    Call(u32),
    /// To an address that only the running core knows, and back.
    UnknownCall,
    /// To an address that only the running core knows.
    UnknownBranch,
    /// To somewhere in this function, by a table.
    Table,
    /// Nowhere.
    Stop,
}

/// What an instruction does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Effect {
    /// To the stack pointer.
    pub(super) growth: Growth,
    /// Where it leads.
    pub(super) flow: Flow,
    /// It may also do nothing.
    pub(super) conditional: bool,
}

const CONDITIONS: [&str; 16] = [
    "eq", "ne", "cs", "cc", "hs", "lo", "mi", "pl", "vs", "vc", "hi", "ls", "ge", "lt", "gt", "le",
];

/// Mnemonics that branch or that work on the stack; with a condition at their end they are still these.
const BASES: &str = "b bl blx bx push pop vpush vpop stmdb stmfd stm stmia ldm ldmia ldmfd ldmdb vstmdb \
    vstmia vldmia vldmdb vstr vldr sub subw subs add addw adds mov movw movs bic and str strb strh strd \
    ldr ldrb ldrh ldrd ldrsb ldrsh cmp cmn tst teq msr mrs tbb tbh cbz cbnz udf bkpt svc nop";

/// Mnemonic without width and condition, and whether it has a condition.
fn base_of(mnemonic: &str) -> (&str, bool) {
    let name = mnemonic.split('.').next().unwrap_or(mnemonic);
    let known = |n: &str| BASES.split_whitespace().any(|b| b == n);
    if known(name) {
        return (name, false);
    }
    CONDITIONS
        .iter()
        .find_map(|c| name.strip_suffix(c).filter(|n| known(n)))
        .map_or((name, false), |base| (base, true))
}

/// `#-8` or `#0x10`.
fn number(text: &str) -> Option<i64> {
    let text = text.trim().strip_prefix('#')?;
    let (sign, digits) = text.strip_prefix('-').map_or((1, text), |rest| (-1, rest));
    let value = match digits.strip_prefix("0x") {
        Some(hex) => i64::from_str_radix(hex, 16).ok()?,
        None => digits.parse().ok()?,
    };
    Some(sign * value)
}

/// Bytes of a list of registers, `{r4, r5, lr}` or `{d8-d15}`.
fn list_bytes(operands: &str) -> Option<i64> {
    let (_, rest) = operands.split_once('{')?;
    let (list, _) = rest.split_once('}')?;
    let index = |name: &str| name.get(1..)?.parse::<i64>().ok();
    list.split(',').map(str::trim).try_fold(0, |sum, name| {
        let each = if name.starts_with('d') { 8 } else { 4 };
        let count = match name.split_once('-') {
            Some((from, to)) => index(to.trim())? - index(from.trim())? + 1,
            None => 1,
        };
        (count > 0).then_some(sum + each * count)
    })
}

/// The address at the end of the operands, `r0, 496 <name+0x3e>`.
fn target(operands: &str) -> Option<u32> {
    let place = operands.split(" <").next()?;
    let address = place.rsplit([',', ' ']).next()?.trim();
    u32::from_str_radix(address.trim_start_matches("0x"), 16).ok()
}

/// What a change of the stack pointer by address writes back, `[sp, #-8]!` and `[sp], #8`.
fn written_back(operands: &str) -> Growth {
    if let Some((_, rest)) = operands.split_once("[sp], ") {
        return number(rest).map_or(Growth::Unknown, |n| Growth::Bytes(-n));
    }
    match operands.split_once("[sp, ") {
        Some((_, rest)) if rest.ends_with("]!") => {
            number(rest.trim_end_matches("]!")).map_or(Growth::Unknown, |n| Growth::Bytes(-n))
        }
        _ => Growth::Bytes(0),
    }
}

/// Growth by an instruction whose first operand is the stack pointer.
fn arithmetic(base: &str, operands: &[&str]) -> Growth {
    let amount = match operands {
        ["sp", amount] | ["sp", "sp", amount] => number(amount),
        _ => None,
    };
    match (base, amount) {
        ("cmp" | "cmn" | "tst" | "teq", _) => Growth::Bytes(0),
        ("sub" | "subw" | "subs", Some(n)) => Growth::Bytes(n),
        ("add" | "addw" | "adds", Some(n)) => Growth::Bytes(-n),
        _ => Growth::Unknown,
    }
}

fn growth_of(base: &str, operands: &str) -> Growth {
    let parts: Vec<&str> = operands.split(',').map(str::trim).collect();
    let first = parts.first().copied().unwrap_or_default();
    let list =
        |sign: i64| list_bytes(operands).map_or(Growth::Unknown, |n| Growth::Bytes(sign * n));
    match base {
        "push" | "vpush" => list(1),
        "pop" | "vpop" => list(-1),
        "stmdb" | "stmfd" | "vstmdb" if first == "sp!" => list(1),
        "ldmia" | "ldmfd" | "ldm" | "vldmia" if first == "sp!" => list(-1),
        _ if first == "sp!" => Growth::Unknown,
        "str" | "strb" | "strh" | "strd" => written_back(operands),
        _ if first == "sp" => arithmetic(base, &parts),
        "msr"
            if matches!(
                first.to_ascii_uppercase().as_str(),
                "MSP" | "PSP" | "CONTROL"
            ) =>
        {
            Growth::Unknown
        }
        _ => written_back(operands),
    }
}

fn flow_of(base: &str, operands: &str) -> Flow {
    let first = operands.split(',').next().unwrap_or_default().trim();
    let to_pc = operands
        .split_once('{')
        .is_some_and(|(_, list)| list.split([',', ' ', '}']).any(|r| r == "pc"));
    match base {
        "b" | "cbz" | "cbnz" => target(operands).map_or(Flow::UnknownBranch, Flow::Branch),
        "bl" | "blx" => target(operands)
            .filter(|_| operands.contains('<'))
            .map_or(Flow::UnknownCall, Flow::Call),
        "bx" if first == "lr" => Flow::Return,
        "bx" => Flow::UnknownBranch,
        "pop" | "ldmia" | "ldmfd" | "ldm" | "ldmdb" if to_pc => {
            if base == "pop" || first == "sp!" {
                Flow::Return
            } else {
                Flow::UnknownBranch
            }
        }
        "ldr" if first == "pc" && operands.contains("[sp], ") => Flow::Return,
        "mov" if first == "pc" && operands.ends_with("lr") => Flow::Return,
        "ldr" | "mov" | "add" | "sub" if first == "pc" => Flow::UnknownBranch,
        "tbb" | "tbh" => Flow::Table,
        "udf" => Flow::Stop,
        _ => Flow::Next,
    }
}

/// What an instruction does.
pub(super) fn effect(instruction: &Instruction) -> Effect {
    let (base, conditional) = base_of(&instruction.mnemonic);
    let operands = instruction.operands.as_str();
    if instruction.mnemonic.starts_with(['.', '<']) {
        // Data: no way leads there.
        return Effect {
            growth: Growth::Bytes(0),
            flow: Flow::Stop,
            conditional: false,
        };
    }
    Effect {
        growth: growth_of(base, operands),
        flow: flow_of(base, operands),
        conditional: conditional || matches!(base, "cbz" | "cbnz"),
    }
}
