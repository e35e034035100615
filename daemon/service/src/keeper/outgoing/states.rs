//! The newest values of every bench: told to the broker, and laid out as facts for whoever shows the house.

use std::sync::Arc;

use bloom_model::bench::{Bench, BenchView};
use bloom_model::time::Time;
use serde_json::json;
use tracing::error;

use crate::facts::{AlarmFacts, BenchFacts, ClockDoubt, HouseFacts, WorkingFacts};
use crate::keeper::{Keeper, STATES_EVERY};
use crate::notify::StateMessage;

impl Keeper {
    /// Lets the newest values be told at the next look.
    pub(in crate::keeper) fn show_soon(&mut self) {
        self.last_states = self.last_states.checked_sub(STATES_EVERY).unwrap_or(self.last_states);
    }

    /// Tells the newest values of every bench, and that the service is up with the age of the stalest bench: to the broker, and
    /// to whoever shows the house.
    pub(in crate::keeper) fn tell_states(&mut self, now: Time) {
        if self.voice.outgoing.is_none() && self.voice.facts.is_closed() {
            return;
        }
        let views: Vec<Option<BenchView>> = self.site.benches().map(Bench::view).collect();
        self.publish_states(&views, now);
        self.show(views, now);
    }

    fn publish_states(&self, views: &[Option<BenchView>], now: Time) {
        let Some(outgoing) = &self.voice.outgoing else { return };
        let mut states = Vec::new();
        let mut oldest: Option<Time> = None;
        for (bench, view) in self.site.benches().zip(views) {
            // a bench whose sensors have never been heard of is as old as this run
            let newest = bench.newest_measured().unwrap_or(self.voice.since);
            oldest = Some(oldest.map_or(newest, |time| time.min(newest)));
            let Some(view) = view else { continue };
            match serde_json::to_value(view) {
                Ok(value) => states.push(StateMessage {
                    topic: self.voice.topics.now(&bench.spec().id),
                    payload: self.voice.payload(value),
                    qos1: false,
                }),
                Err(error) => error!(bench = &*bench.spec().id, "a state cannot be written as JSON: {error}"),
            }
        }
        // to the whole minute, so that it is published once a minute and not at every look
        let minute = |time: Time| Time::from_unix_ms(time.unix_ms().div_euclid(60_000) * 60_000);
        let age = oldest.map(|time| (minute(now) - time).num_seconds().max(0));
        states.push(StateMessage {
            topic: self.voice.topics.daemon(),
            payload: self.voice.payload(json!({
                "service": "up",
                "since": self.voice.since,
                "run": self.voice.run,
                "time": minute(now),
                "oldest_reading_s": age,
            })),
            qos1: true,
        });
        outgoing.states.send_replace(Arc::new(states));
    }

    /// Lays out what the house is like.
    fn show(&self, views: Vec<Option<BenchView>>, now: Time) {
        if self.voice.facts.is_closed() {
            return;
        }
        let spec = self.site.spec();
        let benches = self.site.benches().zip(views);
        let benches = benches.map(|(bench, view)| BenchFacts::of(bench, view, now, spec.silent_after));
        let facts = HouseFacts {
            time: now,
            site: Arc::clone(&spec.name),
            since: self.voice.since,
            run: self.voice.run,
            rehearsal: self.voice.rehearsal,
            alarms: self
                .standing
                .by_need()
                .into_iter()
                .map(|row| AlarmFacts::of(row, self.standing.said(row)))
                .collect(),
            hottest: self.site.hottest_air(now),
            benches: benches.collect(),
            working: WorkingFacts {
                readings_taken: self.fed,
                intakes: self.intake_facts(),
                store: self.store_facts(),
                broker: self.broker_facts(),
                clock_doubt: self.house.clock_doubt().map(ClockDoubt::from),
            },
        };
        self.voice.facts.send_replace(Some(Arc::new(facts)));
    }
}
