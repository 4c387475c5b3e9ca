//! Arguments to commands, errors to exit codes; nothing else.

use std::process::ExitCode;

/// Setting a page makes and forgets very many small things, on every thread; this hands memory out faster than the system does.
#[global_allocator]
static MEMORY: mimalloc::MiMalloc = mimalloc::MiMalloc;

fn main() -> ExitCode {
    ExitCode::from(asfound::commands::run(
        std::env::args_os(),
        &mut std::io::stdout().lock(),
        &mut std::io::stderr().lock(),
    ))
}
