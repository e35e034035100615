//! What people sent, and what they did not answer.

use bloom_model::message::Words;
use bloom_model::sign::{MovedMounts, Sign};
use bloom_model::time::Time;

/// What stands before the message of an alarm that nobody has acknowledged for so many minutes.
pub(crate) fn unanswered(minutes: i64) -> String {
    let so_long = if minutes < 120 { format!("{minutes} min") } else { format!("{} h", minutes / 60) };
    format!("UNANSWERED {so_long}: ")
}

/// A sign that was sent, without its time, while the service did not listen.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Undated<'a> {
    /// The sign.
    pub(crate) sign: &'a Sign,
    /// The bench.
    pub(crate) bench: &'a str,
    /// It was sent after this, where that is known.
    pub(crate) from: Option<Time>,
    /// And before this.
    pub(crate) until: Time,
}

impl Undated<'_> {
    /// Asks when it was.
    pub(crate) fn said(&self, words: &Words<'_>) -> String {
        let Self { sign, bench, from, until } = *self;
        let until = words.date_clock(until);
        let sent = match from {
            Some(from) => format!("between {} and {until}", words.date_clock(from)),
            None => format!("before {until}"),
        };
        let (what, typed) = match sign {
            Sign::Plain(sign) => (sign.name(), format!("sign {bench} {}", sign.name())),
            Sign::Withdrawn(sign) => (sign.name(), format!("sign {bench} {} --withdraw", sign.name())),
            Sign::HeightWithdrawn => ("the taped height", format!("tape {bench} --withdraw")),
            Sign::MountMoved(MovedMounts { tip_m, rim_m }) => {
                let option = |name: &str, metres: Option<f64>| {
                    metres.map_or(String::new(), |metres| format!(" --{name} {metres}"))
                };
                let distances = option("tip", *tip_m) + &option("rim", *rim_m);
                ("mount-moved", format!("sign {bench} mount-moved{distances}"))
            }
        };
        format!(
            "When was \"{what}\" at {bench}? It was sent {sent}, while nobody listened, and nothing follows from it yet. Record it: \
             anthesisd {typed} --at \"18:00\"."
        )
    }
}
