//! The stack of hand-made functions. Expected values are counted by hand from the instruction set: 4 bytes a
//! core or single register, 8 a double (Arm Architecture Procedure Call Standard, IHI 0042).

use host_sim::image::Stack;
use host_sim::image::disassembly::Disassembly;
use std::path::Path;

/// Disassembly, 4 bytes a line: `name:` begins a function, `.name:` is a place within it, `@name` the address
/// of either as the disassembler writes it.
fn code(text: &str) -> Disassembly {
    let (mut lines, mut labels) = (Vec::new(), Vec::new());
    for line in text.lines().map(str::trim).filter(|l| !l.is_empty()) {
        match line.strip_suffix(':') {
            Some(name) => labels.push((name, lines.len())),
            None => lines.push(line),
        }
    }
    let address = |line: usize| 0x100 + 4 * line;
    let mut out = String::from("\nport:     file format elf32-littlearm\n\n");
    for (index, line) in lines.iter().enumerate() {
        for (name, _) in labels
            .iter()
            .filter(|(n, at)| *at == index && !n.starts_with('.'))
        {
            out += &format!("\n{:08x} <{name}>:\n", address(index));
        }
        let (mnemonic, operands) = line.split_once(' ').unwrap_or((line, ""));
        let mut operands = operands.to_owned();
        for (name, at) in &labels {
            let place = format!("{:x} <{name}>", address(*at));
            operands = operands.replace(&format!("@{name}"), &place);
        }
        out += &format!("     {:x}:\t{mnemonic}\t{operands}\n", address(index));
    }
    Disassembly::parse(&out)
}

fn stack(text: &str) -> Stack {
    let code = code(text);
    let root = code.find("root", Path::new("text")).expect("the function");
    Stack::of(&code, root)
}

fn chain(stack: &Stack) -> Vec<(&str, u32)> {
    let frames = stack.chain.iter();
    frames.map(|f| (f.function.as_str(), f.bytes)).collect()
}

#[test]
fn every_way_to_take_stack_counts() {
    for (line, bytes) in [
        ("push {r4, r5, r6, r7, lr}", 20),
        ("push {r4-r7, lr}", 20),
        ("stmdb sp!, {r8, r9, sl, fp}", 16),
        ("stmdb sp!, {r4, r5, r6, r7, r8, r9, sl, fp, lr}", 36),
        ("vpush {d8-d15}", 64),
        ("vpush {s16-s17}", 8),
        ("vpush {s0}", 4),
        ("vstmdb sp!, {d8}", 8),
        ("sub sp, #272\t@ 0x110", 272),
        ("sub sp, sp, #8", 8),
        ("sub.w sp, sp, #10048\t@ 0x2740", 10_048),
        ("subw sp, sp, #2712\t; 0xa98", 2712),
        ("str.w r8, [sp, #-4]!", 4),
        ("strd r4, r5, [sp, #-16]!", 16),
        ("vstr s0, [sp, #44]", 0),
        ("str r0, [sp, #8]", 0),
        ("add r7, sp, #12", 0),
        ("str.w ip, [r0, #4]!", 0),
        ("stmdb r0!, {r1, r2}", 0),
        ("mov r4, sp", 0),
    ] {
        let found = stack(&format!("root:\n{line}\nbx lr"));
        assert_eq!(found.bound(), Some(bytes), "{line}: {found:?}");
    }
}

#[test]
fn the_deepest_point_may_lie_inside() {
    // 8 + 16, then 4 for a moment while it calls: 28 at the call, of 12; a later call at 24, of 12.
    let found = stack(
        "root:
        push {r7, lr}
        sub sp, #16
        vpush {s0}
        bl @leaf
        vpop {s0}
        bl @leaf
        add sp, #16
        pop {r7, pc}
        nop
        leaf:
        push {r4, r5, lr}
        pop {r4, r5, pc}",
    );
    assert_eq!(chain(&found), [("root", 28), ("leaf", 12)]);
    assert_eq!(found.bound(), Some(40));
}

#[test]
fn the_deepest_chain_is_not_the_longest() {
    // root 8 -> far 8 -> leaf 4 is 20; root 8 -> big 100 is 108.
    let found = stack(
        "root:
        push {r7, lr}
        bl @far
        bl @big
        pop {r7, pc}
        nop
        far:
        push {r7, lr}
        bl @leaf
        pop {r7, pc}
        big:
        sub sp, #100
        add sp, #100
        bx lr
        leaf:
        push {lr}
        pop {pc}",
    );
    assert_eq!(chain(&found), [("root", 8), ("big", 100)]);
    assert_eq!(found.bound(), Some(108));
}

#[test]
fn a_branch_to_another_function_counts_from_the_depth_it_leaves() {
    // The first leaves with its 8 bytes still taken, the second after it gave them back.
    let leave = |give_back: &str| {
        stack(&format!(
            "root:
            push {{r7, lr}}
            {give_back}
            b.w @other
            nop
            other:
            sub sp, #32
            add sp, #32
            bx lr"
        ))
    };
    assert_eq!(chain(&leave("nop")), [("root", 8), ("other", 32)]);
    assert_eq!(leave("nop").bound(), Some(40));
    assert_eq!(leave("pop {r7, lr}").bound(), Some(32));
    // Out of the end into the next function, as hand-written code does.
    let falls = stack("root:\nsub sp, #4\nmovs r0, #1\nother:\npush {r4, r5}\nbx lr");
    assert_eq!(falls.bound(), Some(12));
}

#[test]
fn ways_that_meet_count_the_deeper() {
    // An early return by a condition leaves the stack as it was for the rest.
    let early = stack(
        "root:
        push {r4, lr}
        cmp r0, #0
        it eq
        popeq {r4, pc}
        sub sp, #8
        cbz r0, @.joined
        push {r0, r1}
        add sp, #8
        .joined:
        add sp, #8
        pop {r4, pc}",
    );
    // 8, then 8 more, then 8 more.
    assert_eq!(early.bound(), Some(24), "{early:?}");
    // A jump table: both arms are reached only by it.
    let table = stack(
        "root:
        push {r4, lr}
        tbb [pc, r0]
        .short 0x0402
        push {r1, r2, r3}
        add sp, #12
        pop {r4, pc}
        sub sp, #40
        add sp, #40
        pop {r4, pc}",
    );
    assert_eq!(table.bound(), Some(48), "{table:?}");
}

/// A table of branches behind a reckoned jump, as the compiler writes it for cores without `tbb` in reach.
#[test]
fn a_table_of_branches_is_followed() {
    let root = |place: &str| {
        format!(
            "root:
            push {{r4, lr}}
            {place}
            add.w r5, r5, r2, lsl #2
            mov pc, r5
            b.w @.first
            b.w @.second
            .first:
            pop {{r4, pc}}
            .second:
            sub sp, #40
            add sp, #40
            pop {{r4, pc}}"
        )
    };
    let table = stack(&root("addw r5, pc, #8"));
    assert_eq!(table.bound(), Some(48), "{table:?}");
    let spread =
        root("addw r5, pc, #16").replace("mov pc", "mov.w fp, #7\nvcvt.s32.f32 s15, s15\nmov pc");
    assert_eq!(stack(&spread).bound(), Some(48));
    // Reckoned from elsewhere, or written once more, it is not known.
    for place in [
        "addw r6, pc, #8",
        "addw r5, r1, #8",
        "nop",
        "addw r5, pc, #8\nmov r5, r1",
    ] {
        let other = stack(&root(place));
        assert_eq!(other.bound(), None, "{place}: {other:?}");
    }
}

#[test]
fn what_cannot_be_followed_is_told() {
    for (line, reason) in [
        ("sub.w sp, sp, r0", "not static"),
        ("mov sp, r7", "not static"),
        ("add sp, r0", "not static"),
        ("msr MSP, r0", "not static"),
        ("ldr sp, [r0]", "not static"),
        ("blx r3", "function called is not known"),
        ("bx r3", "where it leads"),
        ("ldr.w pc, [r0, r1, lsl #2]", "where it leads"),
        ("mov pc, r3", "where it leads"),
        ("bl 8000 <nowhere>", "no function there"),
        ("bl @root", "recursion: root -> root"),
    ] {
        let found = stack(&format!("root:\npush {{r4, lr}}\n{line}\npop {{r4, pc}}"));
        assert_eq!(found.bound(), None, "{line}");
        assert_eq!(
            (found.bytes, found.unknown.len()),
            (8, 1),
            "{line}: {found:?}"
        );
        let text = found.unknown[0].to_string();
        assert!(
            text.contains(reason) && text.starts_with("root at "),
            "{text}"
        );
    }
    // What returns, or stays, is no such thing.
    for line in [
        "bx lr",
        "ldr.w pc, [sp], #8",
        "mov pc, lr",
        "bxeq lr",
        "msr PRIMASK, r0",
    ] {
        let found = stack(&format!("root:\npush {{r4, lr}}\n{line}\npop {{r4, pc}}"));
        assert_eq!(found.bound(), Some(8), "{line}: {found:?}");
    }
}

#[test]
fn loops_of_calls_and_of_pushes_are_told() {
    let ring = stack(
        "root:
        push {lr}
        bl @second
        pop {pc}
        second:
        push {lr}
        bl @root
        pop {pc}",
    );
    assert_eq!((ring.bound(), ring.bytes), (None, 8));
    let text = ring.unknown[0].to_string();
    assert!(text.contains("recursion: root -> second -> root"), "{text}");
    let grows = stack("root:\npush {r0}\nb.n @root");
    assert_eq!(grows.bound(), None);
    assert!(
        grows.unknown[0].reason.contains("grows in a loop"),
        "{grows:?}"
    );
}

#[test]
fn functions_are_found_by_path_or_part() {
    let path = Path::new("an/image");
    let code = code(
        "_ZN4mps25bench4step17h0158b2e5187ae631E:
        bx lr
        _ZN8firmware9supervise5State4step17h4ec2195ee7d9a1fdE:
        bx lr
        _RINvNtCs1234_4mps25bench5serveflE:
        bx lr",
    );
    assert_eq!(code.find("mps2::bench::step", path).ok(), Some(0));
    assert_eq!(code.find("supervise::State", path).ok(), Some(1));
    assert_eq!(code.find("mps2::bench::serve", path).ok(), Some(2));
    let several = code.find("step", path).expect_err("two").to_string();
    assert!(
        several.contains("expected one function, found mps2::bench::step at "),
        "{several}"
    );
    let none = code.find("isolate", path).expect_err("none").to_string();
    assert!(none.starts_with("an/image: no function isolate"), "{none}");
}

/// rust-lld fills gaps in code with the halfword d4d4, which reads as a branch into the middle of an instruction.
#[test]
fn what_fills_a_gap_is_no_way() {
    for before in ["udf #254", "b.n 104 <root+0x4>"] {
        let filled = |last: &str| {
            stack(&format!(
                "root:\npush {{r4, lr}}\ntbb [pc, r0]\npop {{r4, pc}}\n{before}\n{last}\nnext:\nbx lr"
            ))
        };
        let fill = filled("bmi.n 102 <root+0x2>");
        assert_eq!(fill.bound(), Some(8), "{before}: {fill:?}");
        // A branch to where there is an instruction is followed, from the depth of the table: 8 and 8.
        let back = filled("bmi.n 100 <root>");
        assert_eq!(back.bound(), Some(16), "{before}: {back:?}");
    }
}
