//! What of a controller's image can be known without running it.
//!
//! | file | purpose |
//! |---|---|
//! | `elf` | sections and symbols; flash and static RAM |
//! | `forbidden` | linked routines that must not be there |
//! | `disassembly` | text of the disassembler, by function |
//! | `instruction` | what one instruction does to the stack and where it leads |
//! | `frame` | how deep one function's stack is, and where it calls |
//! | `stack` | the deepest chain of calls |
//! | `figures` | all of it for one port |
//! | `budgets` | what a core may use, from a committed file |
//! | `reset` | that file rewritten from measurements |

pub mod budgets;
pub mod disassembly;
pub mod elf;
mod error;
pub mod figures;
pub mod forbidden;
mod frame;
mod instruction;
mod reset;
pub mod stack;

pub use budgets::{BudgetError, Budgets, Exceeded, Measured};
pub use error::ImageError;
pub use figures::ImageFigures;
pub use forbidden::Forbidden;
pub use stack::Stack;
