//! The command line of `anthesisd`.

use std::process::ExitCode;

fn main() -> ExitCode {
    anthesisd::command::main()
}
