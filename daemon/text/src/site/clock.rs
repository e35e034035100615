//! The machine's clock.

use bloom_model::event::ClockTrouble;
use bloom_model::time::Time;
use chrono::TimeDelta;

use crate::when::span;
use crate::words::Words;

/// What is wrong with it, and what it says.
pub(super) fn clock_wrong(words: &Words<'_>, doubt: ClockTrouble, claimed: Option<Time>) -> String {
    let claimed = claimed.map_or(String::new(), |time| format!(" It says {}.", words.date_clock(time)));
    match doubt {
        ClockTrouble::NotSet => format!(
            "Clock wrong: hours and dates in messages may be wrong. The watch goes on. Set it in the day (timedatectl), and look at \
             network and battery.{claimed} The newest reading is later than that."
        ),
        ClockTrouble::Stepped(by) if by < TimeDelta::zero() => {
            let by = span(-by);
            format!(
                "Clock was set back {by}: for some hours message times run late. The watch goes on. Find out who set it: a time server \
                 should keep it.{claimed}"
            )
        }
        ClockTrouble::Stepped(by) => {
            let by = span(by);
            format!(
                "Clock was set forward {by}: earlier readings carry times {by} too early. The watch goes on. Find out who set it: a time \
                 server should keep it.{claimed}"
            )
        }
        ClockTrouble::NotSynchronised => format!(
            "Clock not confirmed by a time server since the start: hours in messages may be wrong. The watch goes on. Check the network \
             and the time service (timedatectl).{claimed}"
        ),
    }
}
