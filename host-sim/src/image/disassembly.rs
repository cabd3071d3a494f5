//! Text of the disassembler, by function.

use super::ImageError;
use super::elf::plain_name;
use std::path::Path;
use std::process::Command;

/// The disassembler of GNU binutils.
const PROGRAM: &str = "arm-none-eabi-objdump";

/// One instruction, or data among them (its mnemonic begins with a dot).
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Instruction {
    /// Address.
    pub address: u32,
    /// Mnemonic, `sub.w`.
    pub mnemonic: String,
    /// Operands, without comment.
    pub operands: String,
}

/// One function, from its label to the next.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Function {
    /// Address.
    pub address: u32,
    /// Name, demangled.
    pub name: String,
    /// Instructions, by address.
    pub instructions: Vec<Instruction>,
}

/// All functions of an image, by address.
#[derive(Clone, Debug, Default)]
pub struct Disassembly {
    functions: Vec<Function>,
}

impl Disassembly {
    /// Disassembles an image.
    ///
    /// # Errors
    /// The disassembler is missing or fails.
    pub fn of(path: &Path) -> Result<Self, ImageError> {
        let output = Command::new(PROGRAM)
            .env("LC_ALL", "C")
            .args(["--disassemble", "--no-show-raw-insn"])
            .arg(path)
            .output()
            .map_err(|source| ImageError::NoDisassembler {
                program: PROGRAM.to_owned(),
                source,
            })?;
        let text = String::from_utf8_lossy(&output.stdout);
        let all = Self::parse(&text);
        if !output.status.success() || all.functions.is_empty() {
            let said = String::from_utf8_lossy(&output.stderr).trim().to_owned();
            return Err(ImageError::Disassembler {
                program: PROGRAM.to_owned(),
                path: path.to_owned(),
                message: if said.is_empty() {
                    format!("no function in its output ({})", output.status)
                } else {
                    said
                },
            });
        }
        Ok(all)
    }

    /// Reads the disassembler's text (without the instructions' bytes).
    #[must_use]
    pub fn parse(text: &str) -> Self {
        let mut functions: Vec<Function> = Vec::new();
        for line in text.lines() {
            if let Some((address, name)) = label(line) {
                functions.push(Function {
                    address,
                    name: plain_name(name),
                    instructions: Vec::new(),
                });
            } else if let (Some(instruction), Some(function)) =
                (instruction(line), functions.last_mut())
            {
                function.instructions.push(instruction);
            }
        }
        functions.sort_by_key(|f| f.address);
        Self { functions }
    }

    /// All functions, by address.
    #[must_use]
    pub fn functions(&self) -> &[Function] {
        &self.functions
    }

    /// The index of the function in which an address lies.
    #[must_use]
    pub fn at(&self, address: u32) -> Option<usize> {
        let after = self.functions.partition_point(|f| f.address <= address);
        let index = after.checked_sub(1)?;
        let last = self.functions.get(index)?.instructions.last()?;
        (address <= last.address).then_some(index)
    }

    /// The index of the one function of a name: the whole path (with whatever type parameters), or, when
    /// there is none, a part of it.
    ///
    /// # Errors
    /// None, or more than one; `path` names the image.
    pub fn find(&self, name: &str, path: &Path) -> Result<usize, ImageError> {
        let whole = |f: &Function| {
            f.name
                .strip_prefix(name)
                .is_some_and(|rest| rest.is_empty() || rest.starts_with("::<"))
        };
        let among = |rule: &dyn Fn(&Function) -> bool| -> Vec<usize> {
            let all = self.functions.iter().enumerate();
            all.filter(|(_, f)| rule(f)).map(|(i, _)| i).collect()
        };
        let mut found = among(&whole);
        if found.is_empty() {
            found = among(&|f| f.name.contains(name));
        }
        match found.as_slice() {
            [one] => Ok(*one),
            [] => Err(ImageError::NoFunction {
                path: path.to_owned(),
                name: name.to_owned(),
            }),
            several => Err(ImageError::SeveralFunctions {
                path: path.to_owned(),
                name: name.to_owned(),
                found: several
                    .iter()
                    .filter_map(|i| self.functions.get(*i))
                    .map(|f| format!("{} at {:#x}", f.name, f.address))
                    .collect(),
            }),
        }
    }
}

/// `00000458 <name>:`
fn label(line: &str) -> Option<(u32, &str)> {
    let (address, rest) = line.split_once(" <")?;
    let name = rest.strip_suffix(">:")?;
    Some((u32::from_str_radix(address, 16).ok()?, name))
}

/// `     458:<tab>push<tab>{r4, lr}<tab>@ comment`
fn instruction(line: &str) -> Option<Instruction> {
    let (address, rest) = line.split_once(":\t")?;
    let address = u32::from_str_radix(address.trim(), 16).ok()?;
    let code = rest.split(['@', ';']).next().unwrap_or(rest).trim();
    let (mnemonic, operands) = code.split_once(char::is_whitespace).unwrap_or((code, ""));
    (!mnemonic.is_empty()).then(|| Instruction {
        address,
        mnemonic: mnemonic.to_owned(),
        operands: operands.trim().to_owned(),
    })
}
