//! What is so, in one glance: the alarms that stand, and everything because of which no alarm would prove nothing.
//!
//! An alarm can only be raised of what is read, by a watch that moves on, at an hour that is right. So "No alarm stands." is said only
//! where all of that holds; otherwise what does not hold is said in its place, the gravest first.

use bloom_model::quantity::Quantity;
use bloom_model::time::Time;
use bloom_text::when;
use chrono::TimeDelta;
use chrono_tz::Tz;

use crate::facts::{BenchFacts, ClockDoubt, HouseFacts};

/// Facts are laid out every ten seconds; older ones tell that nobody lays them out.
const FACTS_HOLD: TimeDelta = TimeDelta::seconds(60);
/// A broker that is away for so long is worth a word: one that is restarted is back before.
const AWAY_FOR: TimeDelta = TimeDelta::seconds(15);
/// Benches that are named; of more, the number is said.
const MOST_NAMED: usize = 5;
/// A bench that was read before the start is not missed sooner than this after its newest reading.
const MISSED_AFTER: TimeDelta = TimeDelta::seconds(60);

/// How the house is looked at.
#[derive(Debug, Clone, Copy)]
pub(super) struct Glance<'a> {
    /// What the keeper laid out.
    pub(super) facts: &'a HouseFacts,
    /// The parts of the watch that have not moved on in time.
    pub(super) stuck: &'a [String],
    /// The site's time.
    pub(super) now: Time,
    /// A bench without a reading for longer is not read.
    pub(super) silent_after: TimeDelta,
    /// Whether the time is the machine's, and not a recording's.
    pub(super) is_machine: bool,
    /// The site's zone.
    pub(super) zone: Tz,
}

/// What is to be said first, and what beside it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Verdict {
    /// The headline.
    pub(super) headline: String,
    /// Further sentences, the gravest first.
    pub(super) beside: Vec<String>,
    /// Whether anything is in trouble that is no alarm.
    pub(super) trouble: bool,
}

impl Glance<'_> {
    /// The glance at the house.
    pub(super) fn verdict(&self) -> Verdict {
        let waiting = waiting(self.facts);
        let noted = self.facts.alarms.len() - waiting;
        let alarms = match waiting {
            0 => None,
            1 => Some("One alarm needs somebody.".to_owned()),
            waiting => Some(format!("{waiting} alarms need somebody.")),
        };
        let stands = match (waiting, noted) {
            (0, 0) | (1.., _) => None,
            (0, 1) => Some("One alarm stands, acknowledged.".to_owned()),
            (0, all) => Some(format!("{all} alarms stand, all acknowledged.")),
        };
        let troubles = self.troubles();
        let trouble = !troubles.is_empty();
        let mut said = alarms.into_iter().chain(troubles).chain(stands);
        let headline = said.next().unwrap_or_else(|| "No alarm stands.".to_owned());
        Verdict { headline, beside: said.collect(), trouble }
    }

    /// What is in the way of an alarm, or of what is shown.
    fn troubles(&self) -> Vec<String> {
        let Self { facts, stuck, now, zone, .. } = *self;
        let mut troubles = Vec::new();
        if !stuck.is_empty() {
            let parts = stuck.join(", ");
            troubles.push(format!(
                "Part of the watch hangs ({parts}): this page may be old. Look at the plants."
            ));
        } else if now - facts.time > FACTS_HOLD {
            let from = when::clock_seen_from(facts.time, now, zone);
            troubles.push(format!(
                "The watch has told nothing since {from}: this page is from then. Look at the plants."
            ));
        }
        troubles.extend(self.unread());
        for bench in
            facts.benches.iter().filter(|bench| !self.is_silent(bench) && !bench.sensors_out.is_empty())
        {
            troubles.push(format!("{}: {}.", bench.bench, sensors_out(bench)));
        }
        for intake in &facts.working.intakes {
            let Some(since) = intake.out_since else { continue };
            let (name, since) = (&intake.intake, when::clock_seen_from(since, now, zone));
            let why = intake.why.as_ref().map_or(String::new(), |why| format!(" ({why})"));
            troubles.push(format!("Nothing comes by {name} since {since}{why}."));
        }
        if let Some(since) = facts.working.store.failing_since {
            let since = when::clock_seen_from(since, now, zone);
            troubles.push(format!(
                "Nothing is recorded since {since}. Alarms go on; what you record may be refused."
            ));
        }
        troubles.extend(self.broker_away());
        match facts.working.clock_doubt {
            Some(ClockDoubt::NotSet | ClockDoubt::Stepped) => {
                troubles.push(
                    "The machine's clock is wrong, or was set: hours on this page may be wrong.".to_owned(),
                );
            }
            Some(ClockDoubt::NotSynchronised) => {
                troubles.push(
                    "No time server has confirmed the machine's clock: hours on this page may be wrong."
                        .to_owned(),
                );
            }
            None => {}
        }
        troubles
    }

    /// That the broker is away, and what waits for it.
    fn broker_away(&self) -> Option<String> {
        let Self { facts, now, zone, .. } = *self;
        let broker = facts.working.broker.as_ref()?;
        let since = broker.away_since.filter(|since| facts.time - *since >= AWAY_FOR)?;
        let since = when::clock_seen_from(since, now, zone);
        let waiting = match broker.messages_waiting {
            1 => "one message waits".to_owned(),
            many => format!("{many} messages wait"),
        };
        let why = broker.why.as_ref().map_or(String::new(), |why| format!(" ({why})"));
        Some(format!("Phones hear nothing: no broker since {since}, {waiting} for it{why}."))
    }

    /// The benches that are not read, and those not heard yet since the start.
    fn unread(&self) -> Vec<String> {
        let Self { facts, now, zone, .. } = *self;
        let unread: Vec<&BenchFacts> = facts.benches.iter().filter(|bench| self.is_silent(bench)).collect();
        let unheard: Vec<&BenchFacts> = facts
            .benches
            .iter()
            .filter(|bench| !self.is_silent(bench) && self.is_missed_since_start(bench))
            .collect();
        let mut said = Vec::new();
        if facts.benches.is_empty() {
            said.push("No bench is configured: nothing is watched.".to_owned());
        }
        match unread.len() {
            0 => {}
            all if all == facts.benches.len() && all > 1 => {
                said.push(format!("None of {all} benches is read."))
            }
            1 => said.push(format!("{} is not read.", named(&unread))),
            2..=MOST_NAMED => said.push(format!("{} are not read.", named(&unread))),
            many => said.push(format!("{many} of {} benches are not read.", facts.benches.len())),
        }
        if !unheard.is_empty() {
            let who = match unheard.len() {
                1..=MOST_NAMED => named(&unheard),
                many => format!("{many} benches"),
            };
            let since = when::clock_seen_from(facts.since, now, zone);
            said.push(format!("Nothing heard yet from {who} since the start at {since}."));
        }
        said
    }

    /// Whether the bench is not read: now, and not only when the facts were laid out.
    pub(super) fn is_silent(&self, bench: &BenchFacts) -> bool {
        bench.silent || bench.newest_reading.is_none_or(|newest| self.now - newest > self.silent_after)
    }

    /// Whether its newest reading is of before the start.
    fn is_missed_since_start(&self, bench: &BenchFacts) -> bool {
        self.is_machine
            && bench
                .newest_reading
                .is_some_and(|newest| newest < self.facts.since && self.now - newest > MISSED_AFTER)
    }

    /// How many benches are read.
    pub(super) fn read(&self) -> usize {
        self.facts.benches.iter().filter(|bench| !self.is_silent(bench)).count()
    }
}

/// How many alarms nobody took note of.
pub(super) fn waiting(facts: &HouseFacts) -> usize {
    facts.alarms.iter().filter(|alarm| alarm.acknowledged.is_none()).count()
}

/// `no distance to the spadix tip`: what the bench is not told, though it is read.
pub(crate) fn sensors_out(bench: &BenchFacts) -> String {
    let names = bench.sensors_out.iter().filter_map(|name| Quantity::from_name(name)).map(Quantity::words);
    format!("no {} (silent, or the same value again and again)", names.collect::<Vec<_>>().join(", no "))
}

fn named(benches: &[&BenchFacts]) -> String {
    benches.iter().map(|bench| &*bench.bench).collect::<Vec<_>>().join(", ")
}

#[cfg(test)]
mod tests;
