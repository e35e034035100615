//! What was heard, held against what really happened.

use std::collections::{BTreeMap, BTreeSet};

use bloom_model::event::{EventClass, EventKind};
use bloom_model::time::Time;
use chrono::{Datelike, Weekday};
use serde_json::json;

use super::cast::Opening;
use super::inbox::{Inbox, Said, local_date};
use super::phone::Heard;

/// An alarm is taken note of at this repeat, as somebody would who was not at the phone at once.
const NOTED_AT_REPEAT: u64 = 2;

/// What the speed of the play brings and no house: a line that a busy machine holds up for some milliseconds has been silent for hours.
/// The rehearsal draws no silence; `rehearse --warnings` plays them in earnest.
const OF_THE_SPEED: [EventKind; 2] = [EventKind::SensorSilent, EventKind::SensorBack];

/// What the rehearsal has heard so far.
#[derive(Debug)]
pub(super) struct Verdict {
    opening: Opening,
    inbox: Inbox,
    mornings: u64,
    /// Events that are neither of the bloom nor a morning, by their names, and how many there may be.
    others: BTreeMap<String, u64>,
    others_allowed: u64,
    alarm: Option<Time>,
    full_open: Option<Time>,
    false_alarms: Vec<String>,
    /// From when on a slowing of each bench is true.
    slows_from: BTreeMap<String, Option<Time>>,
    false_slowings: Vec<String>,
    slowing: bool,
    closed: bool,
    /// Ids of all events heard.
    heard: BTreeSet<String>,
    /// Ids of the alarms taken note of.
    noted: BTreeSet<String>,
}

/// What to do about a message.
#[derive(Debug, Default, PartialEq)]
pub(super) struct Told {
    /// For the screen.
    pub(super) line: Option<String>,
    /// A topic and a payload to publish: the alarm is taken note of.
    pub(super) note: Option<(String, String)>,
}

impl Verdict {
    /// Nothing heard yet, under topics that begin with `base`; so many events may be neither of the bloom nor a morning.
    pub(super) const fn new(
        opening: Opening,
        slows_from: BTreeMap<String, Option<Time>>,
        base: String,
        others_allowed: u64,
    ) -> Self {
        Self {
            opening,
            inbox: Inbox::new(base),
            mornings: 0,
            others: BTreeMap::new(),
            others_allowed,
            alarm: None,
            full_open: None,
            false_alarms: Vec::new(),
            slows_from,
            false_slowings: Vec::new(),
            slowing: false,
            closed: false,
            heard: BTreeSet::new(),
            noted: BTreeSet::new(),
        }
    }

    /// Messages heard.
    pub(super) const fn messages(&self) -> u64 {
        self.inbox.messages()
    }

    /// Whether the whole of the bloom was told.
    pub(super) const fn is_complete(&self) -> bool {
        self.alarm.is_some() && self.full_open.is_some() && self.closed
    }

    /// Takes a message.
    pub(super) fn hear(&mut self, heard: &Heard) -> Told {
        let opened = self.inbox.open(heard);
        let event = opened.filter(|(place, _)| place.ends_with("event"));
        let said = event.and_then(|(_, payload)| Said::read(&payload));
        said.map_or_else(Told::default, |said| self.hear_event(&said))
    }

    fn hear_event(&mut self, said: &Said) -> Told {
        let time = said.time;
        let ours = said.bench == self.opening.bench;
        // while the broker is slower than the season, a repeat takes the place of the message that it repeats
        if !self.heard.insert(said.id.clone()) {
            let note = (said.repeat >= NOTED_AT_REPEAT && self.noted.insert(said.id.clone())).then(|| {
                // an alarm of the site itself has no bench
                let place = if said.bench.is_empty() { String::new() } else { format!("{}/", said.bench) };
                let topic = self.inbox.topic(&format!("{place}acknowledge"));
                (topic, json!({ "id": said.id, "by": "the rehearsal" }).to_string())
            });
            return Told { line: Some(said.repeat_line()), note };
        }
        // what speaks of a bloom, or was asked for: the daily bulletin, and the test alarm, which the configuration orders. Of anything
        // else a grower wants few
        let is_of_trouble = |kind: EventKind| {
            matches!(kind.row().class, EventClass::Trouble | EventClass::Over)
                && !OF_THE_SPEED.contains(&kind)
        };
        if EventKind::of(&said.kind).is_none_or(is_of_trouble) {
            *self.others.entry(said.kind.clone()).or_default() += 1;
        }
        let mut is_shown = true;
        if said.kind == "slowing" && !self.has_slowed(&said.bench, time) {
            self.false_slowings.push(said.id.clone());
        }
        match said.kind.as_str() {
            "morning" => {
                self.mornings += 1;
                is_shown = local_date(time).weekday() == Weekday::Mon || (ours && self.slowing);
            }
            "slowing" if ours => self.slowing = true,
            "opening-tonight" if ours && (self.opening.crack..=self.opening.full).contains(&time) => {
                self.alarm.get_or_insert(time);
            }
            // late is a miss, not a false alarm
            "opening-tonight" if ours && (self.opening.full..self.opening.closed).contains(&time) => {}
            "opening-tonight" => self.false_alarms.push(said.id.clone()),
            "full-open" if ours => {
                self.full_open.get_or_insert(time);
            }
            "closed" if ours => self.closed = true,
            _ => {}
        }
        Told { line: is_shown.then(|| said.line()), note: None }
    }

    /// Whether the growth of a bench had really fallen by then.
    fn has_slowed(&self, bench: &str, time: Time) -> bool {
        self.slows_from.get(bench).copied().flatten().is_some_and(|from| from <= time)
    }

    /// How it went, in a sentence; an error if it did not go as it must.
    ///
    /// # Errors
    /// With all that was wrong.
    pub(super) fn close(&self) -> Result<String, String> {
        let mut wrong = Vec::new();
        if self.alarm.is_none() {
            wrong.push("the opening alarm was not received before full opening".to_owned());
        }
        if self.full_open.is_none() {
            wrong.push("full opening was not received".to_owned());
        }
        if !self.false_alarms.is_empty() {
            wrong.push(format!("false opening alarms: {}", self.false_alarms.join(", ")));
        }
        if !self.false_slowings.is_empty() {
            wrong.push(format!("told as slowing while they grew: {}", self.false_slowings.join(", ")));
        }
        let others: u64 = self.others.values().sum();
        if others > self.others_allowed {
            let by_kind = self.others.iter().map(|(kind, count)| format!("{count} {kind}"));
            wrong.push(format!(
                "{others} messages were neither of the bloom nor a morning, more than one a bench and week ({}): {}",
                self.others_allowed,
                by_kind.collect::<Vec<_>>().join(", ")
            ));
        }
        wrong.extend(self.inbox.fault());
        let (Some(alarm), true) = (self.alarm, wrong.is_empty()) else { return Err(wrong.join("; ")) };
        let opening = &self.opening;
        Ok(format!(
            "The opening alarm came {:.1} h after the first crack and {:.1} h before full opening; full opening was \
             told; no false opening alarm, no false slowing; {} messages, {} of them morning bulletins, {others} neither of the bloom nor a \
             morning (at most {}).",
            alarm.hours_since(opening.crack),
            opening.full.hours_since(alarm),
            self.messages(),
            self.mornings,
            self.others_allowed
        ))
    }
}

#[cfg(test)]
mod tests {
    use serde_json::Value;

    use super::*;
    use crate::cast::Cast;

    fn event(verdict: &mut Verdict, kind: &str, bench: &str, time: Time, more: Value) -> Told {
        let mut payload = json!({
            "id": format!("{bench}/{kind}/{time}"), "time": time, "bench": bench, "event": kind, "severity": "alarm",
            "message": "REHEARSAL: come", "rehearsal": true,
        });
        payload.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        let topic = format!("anthesis/saltmarsh/{bench}/event");
        verdict.hear(&Heard { topic, payload: payload.to_string().into_bytes() })
    }

    fn nothing_heard() -> (Opening, Verdict) {
        let cast = Cast::draw().unwrap();
        let slows_from = cast.slows_from();
        (cast.opening.clone(), Verdict::new(cast.opening, slows_from, "anthesis/saltmarsh/".to_owned(), 2))
    }

    /// As it was told once: the bud with weeks to go "has slowed" at 7 cm, on the fourth day after it was seen.
    #[test]
    fn a_slowing_of_a_bud_that_grows_is_a_fault() {
        let (opening, mut verdict) = nothing_heard();
        event(&mut verdict, "opening-tonight", "east-3", opening.crack.plus_hours(1.5), json!({}));
        event(&mut verdict, "full-open", "east-3", opening.full, json!({}));
        event(&mut verdict, "slowing", "east-3", opening.crack.plus_hours(-24.0), json!({}));
        assert!(verdict.close().is_ok(), "that one had slowed");
        let wrong: Time = serde_json::from_str("\"2027-05-12T14:00:00Z\"").unwrap();
        event(&mut verdict, "slowing", "west-2", wrong, json!({}));
        let said = verdict.close().unwrap_err();
        assert_eq!(said, "told as slowing while they grew: west-2/slowing/2027-05-12T14:00:00Z");
    }

    #[test]
    fn it_goes_well_only_with_alarm_and_full_opening() {
        let (opening, mut verdict) = nothing_heard();
        let wrong = verdict.close().unwrap_err();
        assert!(
            wrong.contains("alarm was not received") && wrong.contains("full opening was not"),
            "{wrong}"
        );
        let told = event(&mut verdict, "opening-tonight", "east-3", opening.crack.plus_hours(1.5), json!({}));
        assert!(told.line.unwrap().ends_with("ALARM    REHEARSAL: come"));
        assert_eq!(verdict.close().unwrap_err(), "full opening was not received");
        event(&mut verdict, "full-open", "east-3", opening.full, json!({}));
        assert!(verdict.close().unwrap().contains("1.5 h after the first crack and 6.0 h before"));
    }

    #[test]
    fn a_late_alarm_is_a_miss_and_another_bench_s_a_false_one() {
        let (opening, mut verdict) = nothing_heard();
        event(&mut verdict, "full-open", "east-3", opening.full, json!({}));
        event(&mut verdict, "opening-tonight", "east-3", opening.full.plus_hours(0.1), json!({}));
        assert!(verdict.close().unwrap_err().contains("alarm was not received before full opening"));
        event(&mut verdict, "opening-tonight", "west-2", opening.crack.plus_hours(2.0), json!({}));
        event(&mut verdict, "opening-tonight", "east-3", opening.crack.plus_hours(-30.0), json!({}));
        let wrong = verdict.close().unwrap_err();
        assert!(
            wrong.contains("false opening alarms: west-2/opening-tonight/2027-05-30T19:00:00Z"),
            "{wrong}"
        );
        assert!(wrong.contains("east-3/opening-tonight/2027-05-29T11:00:00Z"), "{wrong}");
    }

    #[test]
    fn an_alarm_is_taken_note_of_once_it_was_repeated() {
        let (opening, mut verdict) = nothing_heard();
        let at = opening.crack.plus_hours(2.0);
        let mut repeat =
            |count: u64| event(&mut verdict, "opening-tonight", "east-3", at, json!({ "repeat": count }));
        let first = repeat(1);
        assert!(first.line.unwrap().ends_with("REHEARSAL: come"), "one that overtook the alarm is the alarm");
        assert_eq!(first.note, None);
        let (topic, payload) = repeat(3).note.unwrap();
        assert_eq!(topic, "anthesis/saltmarsh/east-3/acknowledge");
        let payload: Value = serde_json::from_str(&payload).unwrap();
        assert_eq!(payload["id"], format!("east-3/opening-tonight/{at}"));
        let after = repeat(4);
        assert!(after.line.unwrap().ends_with("opening-tonight: repeat 4"));
        assert_eq!(after.note, None);
        assert_eq!(verdict.alarm, Some(at));
    }

    #[test]
    fn more_than_one_other_message_a_bench_and_week_is_a_fault() {
        let (opening, mut verdict) = nothing_heard();
        event(&mut verdict, "opening-tonight", "east-3", opening.crack.plus_hours(1.0), json!({}));
        event(&mut verdict, "full-open", "east-3", opening.full, json!({}));
        for (number, kind) in (1..).zip(["heat", "climate", "morning", "test", "slowing"]) {
            event(&mut verdict, kind, "east-3", opening.full.plus_hours(f64::from(number)), json!({}));
        }
        assert!(verdict.close().unwrap().contains("2 neither of the bloom nor a morning (at most 2)"));
        event(&mut verdict, "climate-over", "east-3", opening.full.plus_hours(9.0), json!({}));
        let wrong = verdict.close().unwrap_err();
        assert!(
            wrong.contains("3 messages were neither") && wrong.ends_with("1 climate, 1 climate-over, 1 heat"),
            "{wrong}"
        );
    }

    #[test]
    fn an_alarm_of_the_site_is_taken_note_of_on_the_sites_topic() {
        let (opening, mut verdict) = nothing_heard();
        let mut say =
            |repeat: u64| event(&mut verdict, "heat", "", opening.crack, json!({ "repeat": repeat })).note;
        assert_eq!(say(0), None);
        assert_eq!(say(2).unwrap().0, "anthesis/saltmarsh/acknowledge");
    }

    #[test]
    fn a_message_without_its_mark_is_a_fault() {
        let (opening, mut verdict) = nothing_heard();
        event(&mut verdict, "opening-tonight", "east-3", opening.crack.plus_hours(1.0), json!({}));
        event(&mut verdict, "full-open", "east-3", opening.full, json!({}));
        let mut say = |topic: &str, payload: &str| {
            verdict.hear(&Heard { topic: format!("anthesis/saltmarsh/{topic}"), payload: payload.into() });
            verdict.close().is_ok()
        };
        assert!(say("east-3/alarm", "[]"));
        assert!(say("east-3/alarm", r#"[{"event":"opening-tonight","rehearsal":true}]"#));
        assert!(
            say("east-3/acknowledge", r#"{"id":"x","by":"ann"}"#),
            "what people publish is not the service's"
        );
        assert!(!say("daemon", r#"{"service":"up"}"#));
    }
}
