//! Names that must not be linked, and their false friends. Double precision: run-time ABI for the Arm
//! architecture (IHI 0043, tables 2, 3, 6 and 7; from memory) and the manual of GCC's library.

use host_sim::image::elf::plain_name;
use host_sim::image::forbidden::{Kind, kind_of};

#[test]
fn forbidden_names_are_known() {
    for (kind, names) in [
        (
            Kind::SoftDouble,
            "__aeabi_dadd __aeabi_dmul __aeabi_dcmplt __aeabi_cdcmple __aeabi_f2d __aeabi_d2f \
             __aeabi_d2iz __aeabi_ui2d __adddf3 __subdf3 __muldf3 __divdf3 __ltdf2 __floatsidf \
             __floatunsidf __fixdfsi __fixunsdfdi __extendsfdf2 __truncdfsf2 __muldf3vfp \
             _RNvNtNtCseL1MqMlhvy0_17compiler_builtins5float3add8___adddf3",
        ),
        (
            Kind::Allocator,
            "malloc free __rust_alloc __rdl_alloc _RNvCsabc_7___rustc12___rust_alloc \
             _ZN5alloc7raw_vec17capacity_overflow17h0123456789abcdefE",
        ),
        (
            Kind::Formatting,
            "_ZN4core3fmt5write17h0123456789abcdefE \
             _ZN4core3fmt3num3imp52_$LT$impl$u20$core..fmt..Display$u20$for$u20$u32$GT$3fmt17h0123456789abcdefE \
             _ZN60_$LT$core..cell..BorrowError$u20$as$u20$core..fmt..Debug$GT$3fmt17h0123456789abcdefE \
             _RNvNtCsabc_4core3fmt5write",
        ),
        (
            Kind::Panic,
            "rust_begin_unwind _RNvCsabc_7___rustc17rust_begin_unwind \
             _ZN4core9panicking5panic17h0123456789abcdefE _RNvNtCsabc_4core9panicking9panic_fmt \
             _ZN4core9panicking18panic_bounds_check17h0123456789abcdefE \
             _ZN4core6option13unwrap_failed17h0123456789abcdefE \
             _ZN4core5slice5index24slice_end_index_len_fail17h0123456789abcdefE",
        ),
    ] {
        for name in names.split_whitespace() {
            assert_eq!(kind_of(&plain_name(name)), Some(kind), "{name}");
        }
    }
}

#[test]
fn false_friends_are_left_alone() {
    for name in "__aeabi_idiv __aeabi_uidivmod __aeabi_ldivmod __aeabi_uldivmod __aeabi_idiv0 __aeabi_ldiv0 \
        __aeabi_fadd __aeabi_fcmpun __aeabi_f2iz __aeabi_i2f __aeabi_ui2f __aeabi_memcpy __addsf3 __divsi3 \
        __divdi3 __udivdi3 __muldi3 __lshrdi3 DefaultHandler_ main rust_panic_free firmware_free \
        _ZN8firmware5limit4free17h0123456789abcdefE _ZN8firmware5alloc4core3fmt3add17h0123456789abcdefE \
        _ZN4core3str8from_str17h0123456789abcdefE \
        _RNvNtNtCseL1MqMlhvy0_17compiler_builtins5float3mul8___mulsf3"
        .split_whitespace()
    {
        assert_eq!(kind_of(&plain_name(name)), None, "{name}");
    }
}
