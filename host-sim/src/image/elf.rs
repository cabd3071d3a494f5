//! Sections and symbols of an image; flash and static RAM.

use super::ImageError;
use object::{
    Architecture, FileFlags, Object, ObjectSection, ObjectSymbol, SectionFlags, SectionKind,
    SymbolKind, elf,
};
use std::ops::Range;
use std::path::{Path, PathBuf};

/// Where an Armv7-M core has its memory: regions SRAM and RAM of the system address map
/// (Armv7-M Architecture Reference Manual, B3.1; from memory).
const RAM_REGIONS: [Range<u32>; 2] = [0x2000_0000..0x4000_0000, 0x6000_0000..0xa000_0000];

/// One section that takes memory on the core.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Section {
    /// Name, `.text`.
    pub name: String,
    /// Address at run time.
    pub address: u32,
    /// Size, bytes.
    pub bytes: u32,
    /// It has content, which lies in flash.
    pub loaded: bool,
}

impl Section {
    fn in_ram(&self) -> bool {
        RAM_REGIONS.iter().any(|r| r.contains(&self.address))
    }
}

/// One named symbol.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Symbol {
    /// As the linker knows it.
    pub linked_name: String,
    /// As the source knows it, without the compiler's hash.
    pub name: String,
    /// Address; that of code without the Thumb bit.
    pub address: u32,
    /// Size, bytes; 0 when the linker was told none.
    pub bytes: u32,
    /// A function.
    pub code: bool,
}

/// A symbol's name as the source knows it, without the compiler's hash.
#[must_use]
pub fn plain_name(linked_name: &str) -> String {
    format!("{:#}", rustc_demangle::demangle(linked_name))
}

/// What an image says of itself.
#[derive(Clone, Debug)]
pub struct Elf {
    /// The file.
    pub path: PathBuf,
    /// Sections that take memory, by address.
    pub sections: Vec<Section>,
    /// Symbols with names, by address.
    pub symbols: Vec<Symbol>,
    /// Arguments travel in registers of a floating-point unit.
    pub hard_float: bool,
}

impl Elf {
    /// Reads an image.
    ///
    /// # Errors
    /// Unreadable file, or no image for a 32-bit Arm core.
    pub fn read(path: &Path) -> Result<Self, ImageError> {
        let bytes = std::fs::read(path).map_err(|source| ImageError::Unreadable {
            path: path.to_owned(),
            source,
        })?;
        Self::from_bytes(&bytes, path)
    }

    /// Reads an image from its bytes; `path` names it in errors.
    ///
    /// # Errors
    /// No image for a 32-bit Arm core.
    pub fn from_bytes(bytes: &[u8], path: &Path) -> Result<Self, ImageError> {
        let wrong = |message: String| ImageError::NotAnImage {
            path: path.to_owned(),
            message,
        };
        let broken = |e: object::Error| wrong(e.to_string());
        let file = object::File::parse(bytes).map_err(broken)?;
        if file.architecture() != Architecture::Arm || file.is_64() {
            return Err(wrong(format!("made for {:?}", file.architecture())));
        }
        let hard_float = matches!(
            file.flags(),
            FileFlags::Elf { e_flags, .. } if e_flags.0 & elf::EF_ARM_ABI_FLOAT_HARD != 0
        );
        let narrow = |value: u64| {
            u32::try_from(value).map_err(|_| wrong(format!("address {value:#x} is too large")))
        };
        let mut sections = Vec::new();
        for section in file.sections() {
            let allocated = matches!(
                section.flags(),
                SectionFlags::Elf { sh_flags, .. } if sh_flags.0 & elf::SHF_ALLOC.0 != 0
            );
            if allocated {
                sections.push(Section {
                    name: section.name().map_err(broken)?.to_owned(),
                    address: narrow(section.address())?,
                    bytes: narrow(section.size())?,
                    loaded: section.kind() != SectionKind::UninitializedData,
                });
            }
        }
        let mut symbols = Vec::new();
        for symbol in file.symbols() {
            let linked_name = symbol.name().map_err(broken)?.to_owned();
            let named = !linked_name.is_empty() && !linked_name.starts_with('$');
            if !named || matches!(symbol.kind(), SymbolKind::File | SymbolKind::Section) {
                continue;
            }
            let code = symbol.kind() == SymbolKind::Text;
            let address = narrow(symbol.address())?;
            symbols.push(Symbol {
                name: plain_name(&linked_name),
                linked_name,
                address: if code { address & !1 } else { address },
                bytes: narrow(symbol.size())?,
                code,
            });
        }
        sections.sort_by_key(|s| s.address);
        symbols.sort_by(|a, b| (a.address, &a.name).cmp(&(b.address, &b.name)));
        Ok(Self {
            path: path.to_owned(),
            sections,
            symbols,
            hard_float,
        })
    }

    /// Flash: everything with content, and that of `.data` too. Gaps from alignment do not count.
    #[must_use]
    pub fn flash_bytes(&self) -> u32 {
        self.sections.iter().filter(|s| s.loaded).fold(0, add)
    }

    /// Static RAM: `.data`, `.bss`, `.uninit` and whatever else lies in RAM.
    #[must_use]
    pub fn ram_bytes(&self) -> u32 {
        self.sections.iter().filter(|s| s.in_ram()).fold(0, add)
    }

    /// What the core pushes when an exception comes, bytes: eight registers; with a floating-point
    /// unit also its sixteen lower registers, its status and a reserved word (Armv7-M Architecture
    /// Reference Manual, B1.5.7; from memory). Up to 4 more align the stack to 8.
    #[must_use]
    pub const fn exception_frame_bytes(&self) -> u32 {
        if self.hard_float { 104 } else { 32 }
    }
}

fn add(sum: u32, section: &Section) -> u32 {
    sum.saturating_add(section.bytes)
}
