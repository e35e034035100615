//! Who took note of what, who comes, and the answer to each: an event that the phones get.
//!
//! The answer is committed with what it speaks of. After a kill there are both or neither, and then the message comes again.

use std::collections::BTreeMap;
use std::sync::Arc;
use std::time::Duration;

use bloom_model::event::{Answer, AnswerDetails, Details, Event, EventKind, WhyNothing};
use bloom_model::time::Time;
use bloom_text::head;
use serde_json::Value;

use super::Keeper;
use super::people::{Refusal, no_bench};
use crate::notify::standing::{READ_IN, Seen, Unheard, Word};
use crate::store::Alarm;

/// Answers of one place in an hour that changed nothing or said that somebody comes. Judged: no person says so more often, a button that is
/// stuck does.
const MOST_IN_AN_HOUR: usize = 6;
const AN_HOUR: Duration = Duration::from_secs(3_600);

/// The answers that count against the bound: of each place when the first of its hour was given, by the clock that nobody can set, and how
/// many were.
#[derive(Debug, Default)]
pub(super) struct Answers(BTreeMap<Option<String>, (Duration, usize)>);

impl Answers {
    /// Counts one more of that place; `None` if it would be one too many, and else how many there may be where it is the last.
    fn count(&mut self, bench: Option<&str>, now: Duration) -> Option<Option<usize>> {
        let (began, given) = self.0.entry(bench.map(str::to_owned)).or_insert((now, 0));
        if now.saturating_sub(*began) >= AN_HOUR {
            (*began, *given) = (now, 0);
        }
        if *given >= MOST_IN_AN_HOUR {
            return None;
        }
        *given += 1;
        Some((*given == MOST_IN_AN_HOUR).then_some(MOST_IN_AN_HOUR))
    }
}

/// An answer about these alarms, as far as every answer goes.
fn details(alarms: &[Alarm], by: Option<String>, answer: Answer) -> AnswerDetails {
    let alarms = alarms.iter().map(|row| row.event_id.clone()).collect();
    AnswerDetails { alarms, by, coming: None, comes_back: None, answer, too_many: None }
}

impl Keeper {
    /// A person has taken note of alarms, each by its id.
    pub(super) fn acknowledge(
        &mut self,
        ids: &[String],
        bench: Option<&str>,
        by: Option<&str>,
    ) -> Result<(), Refusal> {
        let rows = self
            .standing
            .acknowledge(ids, bench, by, self.now())
            .map_err(|why| ("nothing to acknowledge", why))?;
        if rows.is_empty() {
            return Err(("nothing to acknowledge", "that alarm is acknowledged already".to_owned()));
        }
        self.answer_noted(rows, by, &[]);
        Ok(())
    }

    /// A person has taken note of what stands at a bench, or of the site itself, and had been told by `read`; `kept` says that it may have
    /// been sent while nobody listened.
    pub(super) fn acknowledge_read(
        &mut self,
        bench: Option<&str>,
        read: Time,
        kept: bool,
    ) -> Result<(), Refusal> {
        self.check_place(bench)?;
        match self.standing.acknowledge_read(bench, read, self.now()) {
            Ok(Word { changed, unread }) if !changed.is_empty() => {
                self.answer_noted(changed, None, &unread);
                Ok(())
            }
            Ok(Word { unread, .. }) if !unread.is_empty() => {
                let of = self.heads(&unread);
                let why = if kept { WhyNothing::SentBefore(of) } else { WhyNothing::JustTold(of) };
                self.answer_bounded(bench, details(&[], None, Answer::Nothing(why)))
            }
            Ok(_) => {
                Err(("nothing to acknowledge", "all that stands there is acknowledged already".to_owned()))
            }
            Err(_) => {
                let nothing = Answer::Nothing(self.none_stands());
                self.answer_bounded(bench, details(&[], None, nothing))
            }
        }
    }

    /// Somebody comes to a bench, or because of an alarm of the site itself: repeats wait until then. The alarms of these ids were seen.
    pub(super) fn wait_for(
        &mut self,
        bench: Option<&str>,
        ids: &[String],
        until: Time,
        by: Option<String>,
    ) -> Result<(), Refusal> {
        self.check_place(bench)?;
        let now = self.now();
        let nothing = |why| details(&[], by.clone(), Answer::Nothing(why));
        // looked at first: what nobody is told of must not wait
        let mut as_it_would_be = self.standing.clone();
        let answer = match as_it_would_be.wait_for(
            bench,
            Seen { read: now - READ_IN, ids },
            until,
            by.as_deref(),
            now,
        ) {
            Ok(Word { changed, unread }) if !changed.is_empty() || unread.is_empty() => {
                let known = |row: &&Alarm| row.bench.as_deref() == bench && row.coming.is_some();
                if changed.is_empty() && self.standing.alarms().iter().any(|row| known(&row)) {
                    return Err(("it is known that somebody comes", "nothing new was said".to_owned()));
                }
                let (of, unread) = (self.heads(&changed), self.heads(&unread));
                details(&changed, by, Answer::Taken { of, unread })
            }
            Ok(Word { unread, .. }) => nothing(WhyNothing::JustTold(self.heads(&unread))),
            Err(Unheard::TooFarAhead(latest)) => nothing(WhyNothing::TooFarAhead { latest }),
            Err(Unheard::NoneStands) => nothing(self.none_stands()),
        };
        let alarms = answer.alarms.clone();
        self.answer_bounded(bench, AnswerDetails { coming: Some(until), ..answer })?;
        let changed = as_it_would_be.alarms().iter().filter(|row| alarms.contains(&row.event_id));
        let changed = changed.cloned().collect();
        self.standing = as_it_would_be;
        self.tell_changed(changed);
        Ok(())
    }

    /// Somebody saw or did something at a bench at an instant.
    pub(super) fn somebody_was_there(&mut self, bench: &str, at: Time) {
        let now = self.now();
        let (settled, noted) = self.standing.somebody_was_there(bench, at, now);
        self.tell_changed(settled);
        if let Some(by) = noted.first().map(|row| row.acknowledged_by.clone()) {
            self.answer_noted(noted, by.as_deref(), &[]);
        }
    }

    /// Answers what was sent, with an id, perhaps before that alarm was told.
    pub(super) fn answer_late(&mut self, id: &str) -> Result<(), Refusal> {
        let rows: Vec<Alarm> =
            self.standing.alarms().iter().filter(|row| row.event_id == id).cloned().collect();
        let bench = rows.first().and_then(|row| row.bench.clone());
        let why = WhyNothing::SentBefore(self.heads(&rows));
        self.answer_bounded(bench.as_deref(), details(&[], None, Answer::Nothing(why)))
    }

    /// Answers who said that they come by a time, nobody knows on which day.
    pub(super) fn answer_late_coming(
        &mut self,
        bench: Option<&str>,
        until: Time,
        by: Option<String>,
    ) -> Result<(), Refusal> {
        self.check_place(bench)?;
        let rows: Vec<Alarm> =
            self.standing.alarms().iter().filter(|row| row.bench.as_deref() == bench).cloned().collect();
        let why =
            if rows.is_empty() { self.none_stands() } else { WhyNothing::SentBefore(self.heads(&rows)) };
        let answer = details(&[], by, Answer::Nothing(why));
        self.answer_bounded(bench, AnswerDetails { coming: Some(until), ..answer })
    }

    /// Writes down what was taken note of, and says so: of each place once.
    fn answer_noted(&mut self, rows: Vec<Alarm>, by: Option<&str>, unread: &[Alarm]) {
        let mut places: Vec<Option<Arc<str>>> = rows.iter().map(|row| row.bench.clone()).collect();
        places.sort();
        places.dedup();
        self.tell_changed(rows.clone());
        for place in places {
            let of_place: Vec<Alarm> = rows.iter().filter(|row| row.bench == place).cloned().collect();
            let answer = Answer::Taken { of: self.heads(&of_place), unread: self.heads(unread) };
            let comes_back = of_place.iter().filter_map(|row| row.next_repeat).min();
            let answer = AnswerDetails { comes_back, ..details(&of_place, by.map(str::to_owned), answer) };
            self.raise_own(place.as_deref(), EventKind::Acknowledged, Details::Answer(answer));
        }
    }

    /// Gives an answer that counts against the bound.
    fn answer_bounded(&mut self, bench: Option<&str>, answer: AnswerDetails) -> Result<(), Refusal> {
        let Some(too_many) = self.answers.count(bench, self.clock.monotonic()) else {
            let why =
                format!("{MOST_IN_AN_HOUR} such answers were given in an hour; nothing is changed by it");
            return Err(("it was answered often enough", why));
        };
        let answer = Details::Answer(AnswerDetails { too_many, ..answer });
        self.raise_own(bench, EventKind::Acknowledged, answer);
        Ok(())
    }

    /// Raises an event of a bench, or of the site itself, that follows from what people sent and not from readings.
    pub(super) fn raise_own(&mut self, bench: Option<&str>, kind: EventKind, details: Details) {
        let time = self.now();
        let spec = self.site.spec();
        let of_bench = self.site.benches().map(|known| known.spec()).find(|known| Some(&*known.id) == bench);
        let stem = format!("{}/{}/{time}", bench.unwrap_or(&spec.name), kind.name());
        let taken = |id: &String| {
            self.batch.events.iter().any(|event| event.id == *id)
                || self.store.knows_event(id).unwrap_or(false)
        };
        let numbered = (2..).map(|number: u32| format!("{stem}.{number}"));
        let id = std::iter::once(stem.clone()).chain(numbered).find(|id| !taken(id)).unwrap_or(stem);
        let event = Event {
            id,
            time,
            site: Arc::clone(&spec.name),
            // one that is configured no more may still have alarms
            bench: bench.map(Into::into),
            plant: of_bench.and_then(|bench| bench.plant.clone()),
            bloom: None,
            kind,
            severity: kind.row().severity,
            details,
            ends: Vec::new(),
            stands_until: None,
        };
        self.raise(&event);
    }

    fn check_place(&self, bench: Option<&str>) -> Result<(), Refusal> {
        match bench {
            Some(bench) if self.site.number_of(bench).is_none() => Err(no_bench(bench)),
            _ => Ok(()),
        }
    }

    /// Nothing stands where somebody answered: where else they may have meant.
    fn none_stands(&self) -> WhyNothing {
        let site = &self.site.spec().name;
        let open = self.standing.alarms().iter().filter(|row| row.acknowledged.is_none());
        let mut elsewhere: Vec<Arc<str>> =
            open.map(|row| Arc::clone(row.bench.as_ref().unwrap_or(site))).collect();
        elsewhere.sort();
        elsewhere.dedup();
        WhyNothing::NoneStands { elsewhere }
    }

    /// The alarms by the words that their messages begin with, the gravest first, each once.
    fn heads(&self, rows: &[Alarm]) -> Vec<String> {
        let mut rows: Vec<&Alarm> = rows.iter().collect();
        rows.sort_by_key(|row| EventKind::rank_of(&row.kind));
        let site = &self.site.spec().name;
        let mut heads: Vec<String> = Vec::new();
        for row in rows {
            let message = self.standing.said(row).get("message").and_then(Value::as_str);
            let place = row.bench.as_ref().unwrap_or(site);
            let words = message.and_then(|message| head(message, place)).map(str::to_owned);
            let words = words.unwrap_or_else(|| row.kind.replace('-', " "));
            if !heads.contains(&words) {
                heads.push(words);
            }
        }
        heads
    }
}

#[cfg(test)]
mod tests;
