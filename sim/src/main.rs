//! The simulated boat as a program: plays a device on a pseudo-terminal, or writes a trace with the truth beside it.

mod cli;

use std::process::ExitCode;

fn main() -> ExitCode {
    match cli::run() {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("sim: {error:#}");
            ExitCode::FAILURE
        }
    }
}
