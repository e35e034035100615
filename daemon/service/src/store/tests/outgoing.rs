//! The outbox and the standing alarms.

use serde_json::json;

use super::*;
use crate::store::{Alarm, Coming, MAX_OUTBOX_BYTES, MAX_OUTBOX_ROWS, outbox};

fn send(messages: Vec<Message>) -> Batch {
    Batch { messages, ..Batch::default() }
}

/// What waits, in the order in which it is to leave.
fn waiting(reader: &Reader) -> Vec<(i64, String)> {
    let mut all = Vec::new();
    let mut after = 0;
    while let Some(next) = reader.oldest_outgoing(after).unwrap() {
        assert!(next.id > after);
        after = next.id;
        all.push((next.id, next.payload));
    }
    all
}

fn payloads(reader: &Reader) -> Vec<String> {
    waiting(reader).into_iter().map(|(_, payload)| payload).collect()
}

#[test]
fn messages_leave_in_order_and_only_what_was_sent_is_taken_out() {
    let (_directory, path) = place();
    let mut store = Store::open(&path).unwrap();
    let mut retained = message("b", Importance::Alarm, None);
    (retained.retain, retained.topic) = (true, "anthesis/saltmarsh/east-3/alarm".to_owned());
    let committed = store
        .commit(&send(vec![
            message("a", Importance::Event, None),
            retained,
            message("c", Importance::State, None),
        ]))
        .unwrap();
    let reader = Reader::open(&path).unwrap();
    let before = waiting(&reader);
    assert_eq!(committed.message_ids, before.iter().map(|(id, _)| *id).collect::<Vec<_>>());
    assert_eq!(payloads(&reader), ["a", "b", "c"]);
    let second = reader.oldest_outgoing(before[0].0).unwrap().unwrap();
    assert_eq!((second.topic.as_str(), second.retain), ("anthesis/saltmarsh/east-3/alarm", true));

    let sent = vec![before[0].0, before[2].0, 4_000];
    store.commit(&Batch { sent, ..Batch::default() }).unwrap();
    assert_eq!(payloads(&reader), ["b"]);
    drop(store);
    let mut store = Store::open(&path).unwrap();
    store.commit(&Batch { sent: vec![before[1].0], ..Batch::default() }).unwrap();
    store.commit(&send(vec![message("d", Importance::Event, None)])).unwrap();
    assert!(waiting(&reader)[0].0 > before[2].0, "no number comes twice, though the outbox was empty");
    assert_eq!(store.outbox().unwrap().rows, 1);
}

#[test]
fn a_newer_state_or_repeat_takes_the_place_of_the_older() {
    let (_directory, path) = place();
    let mut store = Store::open(&path).unwrap();
    for batch in [
        vec![
            message("state 1", Importance::State, Some("east-3/state")),
            message("repeat 1", Importance::Alarm, Some("x/1")),
        ],
        vec![
            message("state of another", Importance::State, Some("west-1/state")),
            message("event", Importance::Event, None),
        ],
        vec![
            message("state 2", Importance::State, Some("east-3/state")),
            message("repeat 2", Importance::Alarm, Some("x/1")),
        ],
    ] {
        store.commit(&send(batch)).unwrap();
    }
    let reader = Reader::open(&path).unwrap();
    assert_eq!(payloads(&reader), ["state of another", "event", "state 2", "repeat 2"]);
    assert_eq!(reader.outbox().unwrap().dropped, 0, "to be displaced is not to be dropped");
}

#[test]
fn a_full_outbox_gives_up_states_first_then_events_and_never_an_alarm() {
    let (_directory, path) = place();
    let mut store = Store::open(&path).unwrap();
    let rows = i64::try_from(MAX_OUTBOX_ROWS).unwrap();
    let mut batch = vec![message("oldest event", Importance::Event, None)];
    batch.extend((1..rows - 1).map(|n| message(&n.to_string(), Importance::Event, None)));
    batch.insert(2, message("old state", Importance::State, Some("s")));
    batch.extend((0..3).map(|_| message("alarm", Importance::Alarm, None)));
    assert_eq!(store.commit(&send(batch)).unwrap().dropped_messages, 0, "exactly full, alarms apart");

    let reader = Reader::open(&path).unwrap();
    let more = |importance| send(vec![message("more", importance, None)]);
    assert_eq!(store.commit(&more(Importance::Event)).unwrap().dropped_messages, 1);
    assert!(!payloads(&reader).contains(&"old state".to_owned()));
    assert_eq!(payloads(&reader)[0], "oldest event");
    assert_eq!(store.commit(&more(Importance::Event)).unwrap().dropped_messages, 1);
    assert_eq!(payloads(&reader)[0], "1", "the oldest event went");
    assert_eq!(store.commit(&more(Importance::Alarm)).unwrap().dropped_messages, 0);
    // a state that comes to a full outbox is itself the least important
    assert_eq!(store.commit(&more(Importance::State)).unwrap().dropped_messages, 1);

    let all = payloads(&reader);
    assert_eq!(all.iter().filter(|payload| *payload == "alarm").count(), 3);
    assert_eq!(all.iter().filter(|payload| *payload == "more").count(), 3);
    let outbox = reader.outbox().unwrap();
    assert_eq!((outbox.rows, outbox.dropped), (MAX_OUTBOX_ROWS + 4, 3));
    assert_eq!(store.outbox().unwrap(), outbox);
}

#[test]
fn the_outbox_is_bounded_in_bytes_too() {
    let (_directory, path) = place();
    let mut store = Store::open(&path).unwrap();
    let half = "x".repeat(usize::try_from(MAX_OUTBOX_BYTES / 2 - 100).unwrap());
    let big = |importance| send(vec![message(&half, importance, None)]);
    assert_eq!(store.commit(&big(Importance::Alarm)).unwrap().dropped_messages, 0);
    assert_eq!(store.commit(&big(Importance::Event)).unwrap().dropped_messages, 0);
    assert_eq!(store.commit(&big(Importance::Event)).unwrap().dropped_messages, 0);
    assert_eq!(store.commit(&big(Importance::Event)).unwrap().dropped_messages, 1);
    let outbox = store.outbox().unwrap();
    assert_eq!(outbox.rows, 3);
    let topic = "anthesis/saltmarsh/east-3/event".len() as u64;
    assert_eq!(outbox.bytes, 3 * (half.len() as u64 + topic));
}

#[test]
fn only_alarms_over_the_bound_stop_nothing() {
    let (_directory, path) = place();
    let mut store = Store::open(&path).unwrap();
    let messages = [
        message("alarm", Importance::Alarm, None),
        message("alarm", Importance::Alarm, None),
        message("event", Importance::Event, None),
        message("state", Importance::State, None),
    ];
    let written = outbox::write(&store.conn, &messages, 1, 1 << 20).unwrap();
    assert_eq!((written.ids.len(), written.dropped), (4, 1));
    assert_eq!(outbox::write(&store.conn, &messages[..1], 0, 0).unwrap().dropped, 1);
    let reader = Reader::open(&path).unwrap();
    assert_eq!(payloads(&reader), ["alarm", "alarm", "alarm"]);
    store.commit(&send(vec![message("late", Importance::Event, None)])).unwrap();
}

#[test]
fn alarms_stand_until_they_end() {
    let (_directory, path) = place();
    let mut store = Store::open(&path).unwrap();
    let opening = Alarm {
        event_id: "east-3-2027a/opening-tonight/1".to_owned(),
        bench: Some("east-3".into()),
        severity: Severity::Alarm,
        kind: "opening-tonight".to_owned(),
        raised: at(0),
        stands_until: Some(at(36_000)),
        delivered: None,
        acknowledged: None,
        acknowledged_by: None,
        coming: None,
        ended: None,
        repeats: 0,
        repeats_before: 0,
        next_repeat: Some(at(300)),
        payload: json!({ "id": "east-3-2027a/opening-tonight/1", "rate_cm_hour": 3.1 }),
    };
    let of_site = Alarm {
        event_id: "saltmarsh/test/1".to_owned(),
        bench: None,
        stands_until: None,
        next_repeat: None,
        raised: at(-5),
        ..opening.clone()
    };
    let put = |store: &mut Store, alarms: Vec<Alarm>| {
        store.commit(&Batch { alarms, ..Batch::default() }).unwrap();
    };
    put(&mut store, vec![opening.clone(), of_site.clone()]);
    assert_eq!(store.standing().unwrap(), [of_site.clone(), opening.clone()]);
    let comes = |by: Option<&str>| Alarm {
        coming: Some(Coming { since: at(300), until: at(600), by: by.map(str::to_owned) }),
        ..opening.clone()
    };
    for held in [comes(None), comes(Some("Robin"))] {
        put(&mut store, vec![held.clone()]);
        assert_eq!(store.standing().unwrap()[1], held);
    }
    let known = Alarm {
        delivered: Some(at(1)),
        acknowledged: Some(at(400)),
        acknowledged_by: Some("Ida".to_owned()),
        repeats: 3,
        repeats_before: 2,
        next_repeat: None,
        ..opening
    };
    put(&mut store, vec![known.clone(), Alarm { ended: Some(at(500)), ..of_site }]);
    drop(store);
    let known = [known];
    assert_eq!(Store::open(&path).unwrap().standing().unwrap(), known);
    assert_eq!(Reader::open(&path).unwrap().standing().unwrap(), known);
}
