//! Linked routines that must not be in a port: soft double precision, an allocator, formatting, panics.
//!
//! Names are demangled first. A rule on mangled text would miss names of the compiler's newer scheme,
//! in which a path that came before is written as a back reference.

use super::elf::Symbol;
use std::fmt;

/// Why a routine must not be there.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// Arithmetic in double precision, which no core of ours has in hardware.
    SoftDouble,
    /// Memory from a heap.
    Allocator,
    /// Text from values.
    Formatting,
    /// A panic that can be reached.
    Panic,
}

impl fmt::Display for Kind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::SoftDouble => "soft double precision",
            Self::Allocator => "allocator",
            Self::Formatting => "formatting",
            Self::Panic => "panic",
        })
    }
}

/// A routine that must not be there.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Forbidden {
    /// Why.
    pub kind: Kind,
    /// Its name, demangled.
    pub name: String,
}

impl fmt::Display for Forbidden {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} ({})", self.name, self.kind)
    }
}

/// Double precision by the run-time ABI for the Arm architecture (IHI 0043, 4.1.2), after `__aeabi_`.
/// `idiv0`, `ldiv0`, `ldivmod` and the like are whole numbers, and `f2iz`, `fadd` single precision.
const AEABI_DOUBLE: &str = "dadd ddiv dmul drsub dsub cdcmpeq cdcmple cdrcmple dcmpeq dcmplt dcmple \
    dcmpge dcmpgt dcmpun dneg d2iz d2uiz d2lz d2ulz d2f d2h d2h_alt f2d i2d ui2d l2d ul2d";

/// Double precision by the names of the compilers' own library (GCC internals, "Routines for floating
/// point emulation"), after `__`. Some have a twin that ends in `vfp`.
const LIBRARY_DOUBLE: &str = "adddf3 subdf3 muldf3 divdf3 negdf2 cmpdf2 unorddf2 eqdf2 nedf2 gedf2 \
    ltdf2 ledf2 gtdf2 extendsfdf2 extendhfdf2 truncdfsf2 truncdfhf2 fixdfsi fixdfdi fixdfti fixunsdfsi \
    fixunsdfdi fixunsdfti floatsidf floatdidf floattidf floatunsidf floatundidf floatuntidf powidf2 \
    muldc3 divdc3";

const ALLOCATOR: &str = "__rust_alloc __rust_dealloc __rust_realloc __rust_alloc_zeroed \
    __rust_alloc_error_handler __rust_no_alloc_shim_is_unstable_v2 __rg_alloc __rg_dealloc \
    __rg_realloc __rg_alloc_zeroed __rg_oom __rdl_alloc __rdl_dealloc __rdl_realloc \
    __rdl_alloc_zeroed __rdl_oom malloc calloc realloc free memalign aligned_alloc posix_memalign \
    _malloc_r _calloc_r _realloc_r _free_r _sbrk sbrk";

const PANIC: &str = "rust_begin_unwind rust_panic rust_eh_personality";

/// Parts of the core library that do nothing but panic.
const PANIC_PATHS: [&str; 8] = [
    "core::panicking::",
    "core::option::unwrap_failed",
    "core::option::expect_failed",
    "core::result::unwrap_failed",
    "core::slice::index::slice_",
    "core::str::slice_error_fail",
    "core::cell::panic_already_",
    "std::panicking::",
];

fn listed(list: &str, name: &str) -> bool {
    list.split_whitespace().any(|n| n == name)
}

/// Whether a path stands in a name as a path of its own: not `my::core::fmt::` for `core::fmt::`.
fn has_path(name: &str, path: &str) -> bool {
    name.match_indices(path).any(|(at, _)| {
        let before = name[..at].chars().next_back();
        !before.is_some_and(|c| c.is_alphanumeric() || c == '_' || c == ':')
    })
}

/// Why a routine of this (demangled) name must not be there; `None` for all others.
#[must_use]
pub fn kind_of(name: &str) -> Option<Kind> {
    let last = name.rsplit("::").next().unwrap_or(name);
    let double = |n: &str| {
        listed(LIBRARY_DOUBLE, n)
            || n.strip_suffix("vfp")
                .is_some_and(|n| listed(LIBRARY_DOUBLE, n))
    };
    if last
        .strip_prefix("__aeabi_")
        .is_some_and(|n| listed(AEABI_DOUBLE, n))
        || last.strip_prefix("__").is_some_and(double)
    {
        Some(Kind::SoftDouble)
    } else if has_path(name, "alloc::")
        || listed(ALLOCATOR, last) && (last == name || last.starts_with("__"))
    {
        Some(Kind::Allocator)
    } else if listed(PANIC, last) || PANIC_PATHS.iter().any(|p| has_path(name, p)) {
        Some(Kind::Panic)
    } else if has_path(name, "core::fmt::") {
        Some(Kind::Formatting)
    } else {
        None
    }
}

/// All that must not be there, sorted, each once.
#[must_use]
pub fn forbidden(symbols: &[Symbol]) -> Vec<Forbidden> {
    let mut found: Vec<Forbidden> = symbols
        .iter()
        .filter_map(|s| {
            Some(Forbidden {
                kind: kind_of(&s.name)?,
                name: s.name.clone(),
            })
        })
        .collect();
    found.sort();
    found.dedup();
    found
}
