//! A store that fails: what goes out, what is kept, what is dropped.

use tokio::time::Instant as TokioInstant;

use super::*;
use crate::keeper::outgoing::tests::{House, SENTENCE};
use crate::notify::BrokerNews;
use crate::store::{EventFilter, Recorded};
use bloom_model::quantity::Quantity;
use bloom_model::reading::Observed;
use chrono::TimeDelta;

fn kinds(house: &House) -> Vec<String> {
    let mut kinds = Vec::new();
    house.reader.events(EventFilter::default(), |_, event| kinds.push(event.kind)).unwrap();
    kinds
}

/// As if the store had failed for so long.
fn failing_for(house: &mut House, span: Duration) {
    house.machine.pass(TimeDelta::from_std(span).unwrap());
    let failing = house.keeper.failing.as_mut().unwrap();
    failing.tried = failing.tried.checked_sub(RETRY_AFTER).unwrap();
    failing.offered = failing.offered.checked_sub(OFFERED_EVERY).unwrap();
}

#[test]
fn an_alarm_goes_out_when_the_store_has_had_its_time_and_is_committed_later_under_the_same_id() {
    let mut house = House::new(true, false);
    house.keeper.store.refuse_writes(true);
    let id = house.raise(EventKind::OpeningTonight, Severity::Alarm, vec![]);
    house.keeper.try_commit();
    let offered_by = TokioInstant::now();
    assert!(house.keeper.failing.is_some() && kinds(&house).is_empty());
    assert_eq!(house.direct.due(offered_by, false), None, "the store has its time");
    let due = house.direct.next_due().unwrap();
    assert!(due <= offered_by + STORE_PATIENCE);
    assert_eq!(house.caller.waiting()[0].row, None, "and so has the alarm command");

    // the bare sentence, the event itself, then the list of what stands
    let sentence = house.direct.due(due, false).unwrap();
    assert_eq!(
        (sentence.topic.as_str(), sentence.payload.as_str()),
        ("anthesis/saltmarsh/say/alarm", SENTENCE)
    );
    house.direct.done(&sentence);
    house.keeper.hear_broker(BrokerNews::ToldDirectly(sentence));
    assert_eq!(house.caller.waiting().len(), 1, "a sentence without an id is no alarm told");
    let event = house.direct.due(due, false).unwrap();
    assert!(event.topic.ends_with("/east-3/event") && event.payload.contains(&id));
    house.direct.done(&event);
    house.keeper.hear_broker(BrokerNews::ToldDirectly(event));
    assert_eq!(house.caller.waiting(), [], "the broker has it");
    let list = house.direct.due(due, false).unwrap();
    assert!(list.retain && list.topic.ends_with("/east-3/alarm") && list.payload.contains(&id));

    // a later one has no time to lose
    failing_for(&mut house, STORE_PATIENCE);
    house.raise(EventKind::PollenShed, Severity::Alarm, vec![]);
    house.keeper.bear_with_the_store();
    let (pollen, now) = ("pollen-shed", TokioInstant::now());
    house.direct.done(&house.direct.due(now, false).unwrap());
    assert!(house.direct.due(now, false).unwrap().payload.contains(pollen));

    house.keeper.store.refuse_writes(false);
    failing_for(&mut house, Duration::ZERO);
    house.keeper.bear_with_the_store();
    assert!(house.keeper.failing.is_none());
    assert_eq!(kinds(&house), ["opening-tonight", "pollen-shed"]);
    assert!(house.keeper.store.knows_event(&id).unwrap());
    assert_eq!(house.row_of(&id), None, "told already");
    assert!(house.row_of(pollen).is_some());
    assert_eq!(house.direct.next_due(), None, "the outbox has the rest");
    assert_eq!(house.caller.waiting().len(), 1);
    assert_eq!(house.keeper.store.standing().unwrap().len(), 2);
}

#[test]
fn what_a_person_answers_while_the_store_fails_calls_nobody_any_more() {
    let mut house = House::new(false, false);
    house.keeper.store.refuse_writes(true);
    let id = house.raise(EventKind::OpeningTonight, Severity::Alarm, vec![]);
    house.keeper.try_commit();
    assert_eq!(house.caller.waiting().len(), 1);
    house.keeper.acknowledge(std::slice::from_ref(&id), None, Some("Robin")).unwrap();
    failing_for(&mut house, Duration::ZERO);
    house.keeper.bear_with_the_store();
    assert_eq!(house.caller.waiting(), []);
    house.keeper.store.refuse_writes(false);
    house.keeper.try_commit();
    assert_eq!(house.caller.waiting(), []);
    assert!(house.keeper.store.standing().unwrap()[0].acknowledged.is_some());
}

#[test]
fn a_store_that_fails_for_long_is_told_of_and_so_is_its_end_with_what_was_lost() {
    let mut house = House::new(true, false);
    house.keeper.store.refuse_writes(true);
    let reading = |ms| Recorded {
        bench: "east-3".into(),
        time: Time::from_unix_ms(1_811_880_000_000 + ms),
        observed: Observed::Value(Quantity::TipRange, 0.9),
        note: None,
        by: None,
        fed: None,
    };
    house.keeper.batch.readings.push(reading(0));
    house.keeper.try_commit();
    let silent = |house: &House| house.keeper.batch.events.is_empty();
    assert!(silent(&house), "a short trouble is none");
    failing_for(&mut house, TOLD_AFTER);
    house.keeper.bear_with_the_store();
    let told = house.keeper.batch.events[0].clone();
    assert_eq!((told.kind.as_str(), told.severity), ("store-failing", Severity::Warning));
    failing_for(&mut house, Duration::ZERO);
    house.keeper.bear_with_the_store();
    let sentence = house.direct.due(TokioInstant::now(), false).unwrap();
    assert!(sentence.topic.ends_with("/say/warning"), "{sentence:?}");
    house.direct.done(&sentence);
    assert!(house.direct.due(TokioInstant::now(), false).unwrap().payload.contains("store-failing"));

    house.keeper.batch.readings.extend((1..=READINGS_KEPT as i64 + 6).map(reading));
    house.keeper.bear_with_the_store();
    assert_eq!(house.keeper.batch.readings.len(), READINGS_KEPT);
    assert_eq!(house.keeper.batch.readings[0], reading(7), "the oldest went");
    let message = |importance, payload: usize| Message {
        topic: "anthesis/saltmarsh/east-3/event".to_owned(),
        payload: payload.to_string(),
        retain: false,
        importance,
        displaces: None,
    };
    house.keeper.batch.messages = (0..3).map(|n| message(Importance::Alarm, n)).collect();
    house.keeper.batch.messages.extend((0..MESSAGES_KEPT).map(|n| message(Importance::Event, n)));
    house.keeper.batch.messages.push(message(Importance::State, 0));
    house.keeper.bear_with_the_store();
    assert_eq!(house.keeper.batch.messages.len(), MESSAGES_KEPT);
    let count = |importance| {
        house.keeper.batch.messages.iter().filter(|message| message.importance == importance).count()
    };
    assert_eq!((count(Importance::Alarm), count(Importance::State)), (3, 0));

    // a disk that takes something and fails again is not well
    house.keeper.store.refuse_writes(false);
    failing_for(&mut house, Duration::ZERO);
    house.keeper.bear_with_the_store();
    assert_eq!(kinds(&house), ["store-failing"]);
    house.keeper.store.refuse_writes(true);
    house.keeper.batch.readings.push(reading(0));
    failing_for(&mut house, WELL_AFTER);
    house.keeper.bear_with_the_store();
    house.keeper.store.refuse_writes(false);
    for span in [Duration::ZERO, WELL_AFTER / 2, WELL_AFTER / 2] {
        house.keeper.commit().unwrap();
        assert_eq!(kinds(&house), ["store-failing"]);
        failing_for(&mut house, span);
        house.keeper.bear_with_the_store();
    }
    house.keeper.commit().unwrap();
    assert_eq!(kinds(&house), ["store-failing", "store-failing-over"]);
    let mut payload = String::new();
    house.reader.events(EventFilter::default(), |_, event| payload = event.payload).unwrap();
    assert!(payload.contains("7 readings, 0 events and 4 messages"), "{payload}");
}
