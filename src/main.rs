//! The program: parse, dispatch, and an exit code.

use std::process::ExitCode;

fn main() -> ExitCode {
    match taffrail::cli::run(std::env::args_os()) {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            failure.tell();
            ExitCode::from(failure.code())
        }
    }
}
