//! `page-password`: the hash of a password, for the file that `[page] password_file` names.

use std::io::{self, BufRead, IsTerminal, Write};

use rustix::termios::{LocalModes, OptionalActions, Termios, tcgetattr, tcsetattr};

use super::{Failure, failed, print};
use crate::password::{SHORTEST, hash};

/// `anthesisd page-password | sudo install -o anthesisd -m 600 /dev/stdin /etc/anthesisd/page-password`
pub(super) fn page_password() -> Result<(), Failure> {
    let password = read_line().map_err(failed)?;
    print(hash(&password).map_err(|why| Failure::Usage(format!("the password {why}")))?)
}

/// One line of standard input; where a person types it, it is not shown.
fn read_line() -> io::Result<String> {
    let input = io::stdin();
    let hidden = if input.is_terminal() {
        // standard output takes the hash
        write!(io::stderr(), "Password for the page, at least {SHORTEST} characters (not shown): ")?;
        Some(Hidden::from(tcgetattr(&input)?)?)
    } else {
        None
    };
    let mut line = String::new();
    input.lock().read_line(&mut line)?;
    if hidden.is_some() {
        writeln!(io::stderr())?;
    }
    Ok(line.trim_end_matches(['\n', '\r']).to_owned())
}

/// A terminal that shows nothing that is typed, until the value goes.
struct Hidden(Termios);

impl Hidden {
    fn from(shown: Termios) -> io::Result<Self> {
        let mut hiding = shown.clone();
        hiding.local_modes.remove(LocalModes::ECHO);
        tcsetattr(io::stdin(), OptionalActions::Flush, &hiding)?;
        Ok(Self(shown))
    }
}

impl Drop for Hidden {
    fn drop(&mut self) {
        // a terminal that went away needs nothing
        let _ = tcsetattr(io::stdin(), OptionalActions::Flush, &self.0);
    }
}
