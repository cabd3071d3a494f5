//! The real images of the ports, where they are built: sizes against GNU size, stack, routines, budgets.

use host_sim::cores::BoardKind;
use host_sim::image::disassembly::Disassembly;
use host_sim::image::elf::Elf;
use host_sim::image::{Budgets, ImageError, ImageFigures};
use std::path::{Path, PathBuf};
use std::process::Command;

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

/// Images of a core: its port and its bench.
fn images(core: BoardKind) -> Option<(PathBuf, PathBuf)> {
    let images = becalm_tests::lane::folder();
    let (port, bench) = (core.image(&images, "port"), core.image(&images, "bench"));
    let there = port.is_file() && bench.is_file();
    becalm_tests::lane::available(there, &format!("no image {}", port.display()))
        .then_some((port, bench))
}

fn figures(core: BoardKind) -> Option<ImageFigures> {
    let (port, bench) = images(core)?;
    match ImageFigures::of(&port, &bench) {
        Err(ImageError::NoDisassembler { program, .. }) => {
            becalm_tests::lane::available(false, &format!("no {program}"));
            None
        }
        other => Some(other.expect("figures")),
    }
}

// Demonstrates: fpu-instructions, fpu-instruction-ratio, m3-instructions, stack, stack-static, ram, flash
// Demonstrates: recorder-instructions, recorder-ram
#[test]
fn ports_keep_their_budgets() {
    let budgets = Budgets::read(&root().join("firmware/boards/budgets.toml")).expect("budgets");
    for core in BoardKind::ALL {
        let Some(found) = figures(core) else { continue };
        println!("{core}: {found:#?}");
        let budget = budgets.of(core);
        assert!(found.panic_free, "{core}");
        assert_eq!(found.forbidden, [], "{core}");
        assert_eq!(found.unknown_calls, [], "{core}");
        assert_eq!(found.main_stack.unknown, [], "{core}");
        let stack = found.stack_bound().expect("a bound");
        assert!(stack <= budget.stack_bytes_static, "{core}: {stack}");
        assert!(found.ram_bytes <= budget.ram_bytes, "{core}");
        // The formula of the recorder's documentation, for 8 blocks of 512 frames.
        let recorder = 8 * (16 * 512 + 4 * firmware::SNAPSHOT_WORDS + 8) + 40;
        assert_eq!(found.recorder_bytes as usize, recorder, "{core}");
        assert!(found.recorder_bytes <= budget.recorder_bytes, "{core}");
        assert!(found.flash_bytes <= budget.flash_bytes, "{core}");
        // The chain adds up, and begins where it should.
        let sum: u32 = found.stack_chain.iter().map(|f| f.bytes).sum();
        assert_eq!(sum, stack, "{core}");
        assert!(
            found.stack_chain[0]
                .function
                .starts_with("mps2::bench::step")
        );
        assert_eq!(found.main_stack.chain[0].function, "main");
        // Eight registers; with a floating-point unit 26 words (Armv7-M manual, from memory).
        let frame = if core == BoardKind::M3 { 32 } else { 104 };
        assert_eq!(found.exception_frame_bytes, frame, "{core}");
    }
}

/// GNU size counts code and constants as text, initial data as data, the rest as bss.
#[test]
fn sizes_agree_with_gnu_size() {
    for core in BoardKind::ALL {
        let Some((port, bench)) = images(core) else {
            continue;
        };
        for image in [port, bench] {
            let Ok(out) = Command::new("arm-none-eabi-size").arg(&image).output() else {
                becalm_tests::lane::available(false, "no arm-none-eabi-size");
                return;
            };
            let text = String::from_utf8(out.stdout).expect("text");
            let row: Vec<u32> = text
                .lines()
                .nth(1)
                .expect("a row")
                .split_whitespace()
                .map_while(|n| n.parse().ok())
                .collect();
            let elf = Elf::read(&image).expect("an image");
            assert_eq!(
                elf.flash_bytes(),
                row[0] + row[1],
                "{core} {}",
                image.display()
            );
            assert_eq!(
                elf.ram_bytes(),
                row[1] + row[2],
                "{core} {}",
                image.display()
            );
        }
    }
}

/// The linker's table of symbols and the disassembler's labels are the same functions.
#[test]
fn every_function_of_the_linker_is_disassembled() {
    for core in BoardKind::ALL {
        let Some((port, _)) = images(core) else {
            continue;
        };
        let code = match Disassembly::of(&port) {
            Err(ImageError::NoDisassembler { program, .. }) => {
                becalm_tests::lane::available(false, &format!("no {program}"));
                return;
            }
            other => other.expect("a disassembly"),
        };
        let elf = Elf::read(&port).expect("an image");
        let functions = elf.symbols.iter().filter(|s| s.code && s.bytes > 0);
        let mut count = 0;
        for symbol in functions {
            let index = code.at(symbol.address).expect("a function");
            assert_eq!(
                code.functions()[index].address,
                symbol.address,
                "{}",
                symbol.name
            );
            count += 1;
        }
        assert!(count > 5, "{core}: {count}");
    }
}

#[test]
fn what_is_no_image_is_told() {
    let missing = Elf::read(Path::new("nowhere/port"))
        .expect_err("no file")
        .to_string();
    assert!(
        missing.starts_with("nowhere/port: cannot be read"),
        "{missing}"
    );
    let file = root().join("Cargo.toml");
    let text = Elf::read(&file).expect_err("a text").to_string();
    assert!(
        text.contains("Cargo.toml: ") && text.contains("expected a linked ELF"),
        "{text}"
    );
    // The head of an image for a desktop (ELF64, x86-64), cut short, and one of ours cut short.
    for class in [1, 2] {
        let mut head = vec![0x7f, b'E', b'L', b'F', class, 1, 1];
        head.resize(30, 0);
        assert!(Elf::from_bytes(&head, Path::new("x")).is_err());
    }
    let own = std::env::current_exe().expect("this test");
    let error = Elf::read(&own)
        .expect_err("not for an Arm core")
        .to_string();
    assert!(error.contains("made for "), "{error}");
}
