//! Arguments to commands, errors to exit codes; nothing else.

use std::process::ExitCode;

fn main() -> ExitCode {
    ExitCode::from(asfound::commands::run(
        std::env::args_os(),
        &mut std::io::stdout().lock(),
        &mut std::io::stderr().lock(),
    ))
}
