//! What `rehearse` is told on its command line.

use clap::builder::PossibleValuesParser;
use clap::{CommandFactory, Parser};

use crate::{OwnBroker, warnings};

/// Plays a whole bloom in about a minute: three virtual benches, the real service, a real store, a real broker.
///
/// Exits 0 only if the opening alarm and full opening were received, and neither a false opening alarm nor a slowing of a bud that
/// grows was; with --warnings, only if each warning came once, named the right benches, and was taken back.
#[derive(Debug, Parser)]
#[command(name = "rehearse", version, max_term_width = 100)]
pub struct Arguments {
    /// The grower's broker, if that is to be used.
    #[command(flatten)]
    pub own: OwnBroker,
    /// Keep service and broker alive at the end, until Ctrl-C
    #[arg(long)]
    pub hold: bool,
    /// As fast as the service takes it, without pauses to read: tells in seconds whether all works here
    #[arg(long)]
    pub quick: bool,
    /// Instead of a bloom: each warning in earnest, one after the other, with the trouble behind it and its end; or only those
    /// that are named, with commas between
    #[arg(long, value_name = "WARNING", num_args = 0.., value_delimiter = ',', conflicts_with = "hold",
        value_parser = PossibleValuesParser::new(warnings()))]
    pub warnings: Option<Vec<String>>,
}

/// The command and its options: what its manual page is made from.
pub fn definition() -> clap::Command {
    Arguments::command()
}
