//! The command `becalm`.

mod cli;

fn main() -> std::process::ExitCode {
    cli::main()
}
