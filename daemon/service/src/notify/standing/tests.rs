use bloom_model::event::{Details, EventKind};
use chrono::TimeDelta;

use super::*;

pub(super) const START: Time = Time::from_unix_ms(1_811_900_000_000);

pub(super) fn ids(ids: &[&str]) -> Vec<String> {
    ids.iter().map(|id| (*id).to_owned()).collect()
}

pub(super) fn minute(minutes: i64) -> Time {
    START + TimeDelta::minutes(minutes)
}

pub(super) fn event(id: &str, bench: Option<&str>, kind: EventKind, raised: Time) -> Event {
    Event {
        id: id.to_owned(),
        time: raised,
        site: "saltmarsh".into(),
        bench: bench.map(Into::into),
        plant: None,
        bloom: None,
        kind,
        severity: Severity::Alarm,
        details: Details::Test {},
        ends: vec![],
        stands_until: None,
    }
}

/// The event as it is published.
fn published(event: &Event, message: &str) -> Value {
    json!({ "message": message, "id": event.id, "time": event.time, "event": event.kind })
}

pub(super) fn raise(standing: &mut Standing, event: &Event, now: Time) -> Vec<Alarm> {
    standing.raise(event, &published(event, "Go and look.").to_string(), now).unwrap()
}

pub(super) fn opening() -> Event {
    event("east-3-2027a/opening-tonight/1", Some("east-3"), EventKind::OpeningTonight, START)
}

/// The minutes at which `standing` repeats, as a keeper that always looks in time would see them.
fn repeats(standing: &mut Standing) -> Vec<(i64, Value)> {
    let mut seen = vec![];
    while let Some(at) = standing.next_due() {
        let due = standing.due(at);
        seen.extend(due.repeats.into_iter().map(|repeat| ((at - START).num_minutes(), repeat.payload)));
    }
    seen
}

#[test]
fn repeats_come_at_growing_intervals_and_are_bounded() {
    let mut standing = Standing::default();
    raise(&mut standing, &opening(), START);
    let seen = repeats(&mut standing);
    let minutes: Vec<_> = seen.iter().map(|(at, _)| *at).collect();
    assert_eq!(minutes[..8], [5, 10, 20, 40, 80, 140, 200, 260]);
    assert_eq!(seen.len(), 48);
    // 80 minutes for the first five, and 43 hours
    assert_eq!(minutes.last(), Some(&(80 + 43 * 60)));
    assert_eq!(seen[2].1["repeat"], 3);
    assert_eq!(seen[2].1["id"], "east-3-2027a/opening-tonight/1");
    assert_eq!(seen[2].1["message"], "Go and look.");
    assert!(standing.stands("east-3-2027a/opening-tonight/1"), "it stands though it is repeated no more");
}

#[test]
fn what_nobody_answers_says_so_and_goes_the_second_way_out() {
    let unanswered = |kind| {
        let mut standing = Standing::default();
        raise(&mut standing, &event("id", Some("east-3"), kind, START), START);
        let mut seen = vec![];
        while let Some(at) = standing.next_due() {
            for repeat in standing.due(at).repeats {
                if repeat.unanswered {
                    seen.push(repeat.payload);
                }
            }
        }
        seen
    };
    let opening = unanswered(EventKind::OpeningTonight);
    assert_eq!(opening.len(), 45, "from the fourth repeat on, all of them");
    assert_eq!(opening[0]["repeat"], 4);
    assert_eq!(opening[0]["unanswered_min"], 40);
    assert_eq!(opening[0]["message"], "UNANSWERED 40 min: Go and look.");
    let test = unanswered(EventKind::Test);
    assert_eq!(test.len(), 1, "a test calls the siren once");
    assert_eq!(test[0]["message"], "UNANSWERED 2 h: Go and look.");

    let mut answered = Standing::default();
    raise(&mut answered, &opening_of(EventKind::Test), START);
    answered.acknowledge(&ids(&["id"]), None, None, minute(139)).unwrap();
    assert_eq!(answered.due(minute(600)).repeats, []);
}

fn opening_of(kind: EventKind) -> Event {
    event("id", Some("east-3"), kind, START)
}

#[test]
fn a_repeat_is_the_event_but_for_its_count() {
    let mut standing = Standing::default();
    raise(&mut standing, &opening(), START);
    let mut repeat = standing.due(minute(5)).repeats.remove(0).payload;
    assert_eq!(repeat.as_object_mut().unwrap().remove("repeat"), Some(json!(1)));
    assert_eq!(repeat, published(&opening(), "Go and look."));
}

#[test]
fn acknowledging_one_never_silences_a_later_one() {
    let mut standing = Standing::default();
    raise(&mut standing, &opening(), START);
    let id = ids(&["east-3-2027a/opening-tonight/1"]);
    let changed = standing.acknowledge(&id, None, Some("Robin"), minute(1)).unwrap();
    assert_eq!(changed[0].acknowledged_by.as_deref(), Some("Robin"));
    assert_eq!(changed[0].next_repeat, None);
    assert_eq!(standing.next_due(), None);
    let later = event("east-3-2027a/opening-tonight/2", Some("east-3"), EventKind::OpeningTonight, minute(2));
    raise(&mut standing, &later, minute(2));
    assert_eq!(standing.next_due(), Some(minute(7)));
    assert_eq!(repeats(&mut standing).len(), 48);
    assert_eq!(standing.list(Some("east-3")).as_array().unwrap().len(), 2);
}

#[test]
fn acknowledging_twice_keeps_the_first_and_an_unknown_one_is_said() {
    let mut standing = Standing::default();
    raise(&mut standing, &opening(), START);
    let id = "east-3-2027a/opening-tonight/1";
    let wrong_bench = standing.acknowledge(&ids(&[id]), Some("west-1"), None, minute(1));
    assert!(
        wrong_bench.unwrap_err().contains("stands for bench \"west-1\"; standing now, newest first: east-3")
    );
    let mut acknowledge = |by, now| standing.acknowledge(&ids(&[id]), Some("east-3"), Some(by), now);
    assert_eq!(acknowledge("Robin", minute(1)).unwrap().len(), 1);
    assert_eq!(acknowledge("Kim", minute(2)).unwrap(), vec![]);
    assert_eq!(
        standing.list(Some("east-3"))[0]["acknowledged"],
        json!({"at": minute(1).to_string(), "by": "Robin"})
    );
    standing.end(id, minute(3)).unwrap();
    let over = standing.acknowledge(&ids(&[id]), Some("east-3"), None, minute(4));
    assert!(over.unwrap_err().contains("nothing is left"));
}

#[test]
fn an_alarm_ends_with_its_window_or_by_the_event_that_ends_it() {
    let mut standing = Standing::default();
    raise(&mut standing, &opening(), START);
    let window = Event {
        stands_until: Some(minute(12)),
        ..event("east-3-2027a/pollen-shed/1", Some("east-3"), EventKind::PollenShed, START)
    };
    raise(&mut standing, &window, START);
    let due = standing.due(minute(600));
    assert_eq!(due.repeats.len(), 1, "one repeat however long nobody looked, none for what is over");
    assert_eq!(due.changed[1].ended, Some(minute(12)));
    let closed = Event {
        severity: Severity::Notice,
        ends: vec![opening().id, "of another day".to_owned()],
        ..event("east-3-2027a/closed/1", Some("east-3"), EventKind::Closed, minute(700))
    };
    let changed = raise(&mut standing, &closed, minute(700));
    assert_eq!(changed.iter().map(|row| row.ended).collect::<Vec<_>>(), [Some(minute(700))]);
    assert_eq!((standing.list(Some("east-3")).to_string().as_str(), standing.next_due()), ("[]", None));
    assert_eq!(raise(&mut standing, &window, minute(12)), vec![], "over before it was raised");
}

#[test]
fn the_list_is_a_benchs_own_and_has_the_gravest_first() {
    let mut standing = Standing::default();
    let raised = [
        event("late", Some("east-3"), EventKind::FruitRipe, START),
        event("silent", Some("east-3"), EventKind::SensorSilent, minute(1)),
        event("cold", Some("east-3"), EventKind::Climate, minute(2)),
        event("hot", Some("east-3"), EventKind::Climate, minute(3)),
        event("other", Some("west-1"), EventKind::OpeningTonight, minute(3)),
        event("site", None, EventKind::IntakeDown, minute(3)),
        opening(),
    ];
    for event in &raised {
        assert_eq!(raise(&mut standing, event, event.time).len(), 1);
        assert_eq!(raise(&mut standing, event, event.time).len(), 0, "raised once");
    }
    let ids = |bench| {
        let list = standing.list(bench);
        list.as_array()
            .unwrap()
            .iter()
            .map(|alarm| alarm["id"].as_str().unwrap().to_owned())
            .collect::<Vec<_>>()
    };
    assert_eq!(ids(Some("east-3")), ["east-3-2027a/opening-tonight/1", "hot", "cold", "silent", "late"]);
    assert_eq!(ids(None), ["site"]);
    assert_eq!(standing.list(Some("west-2")).to_string(), "[]");
    let notice = Event { severity: Severity::Warning, ..event("w", None, EventKind::Climate, START) };
    assert_eq!(raise(&mut standing, &notice, START), vec![]);
}

#[test]
fn what_was_kept_is_put_back_as_it_was() {
    let mut standing = Standing::default();
    let mut rows = raise(&mut standing, &opening(), START);
    rows.extend(raise(&mut standing, &event("cold", None, EventKind::Climate, minute(1)), minute(1)));
    rows.push(ended(rows[0].clone(), minute(2)));
    rows.reverse();
    assert_eq!(Standing::restore(rows), standing);
}

#[test]
fn a_clock_set_back_does_not_silence() {
    let mut standing = Standing::default();
    raise(&mut standing, &opening(), START);
    assert_eq!(standing.due(minute(4)).repeats.len(), 0);
    let yesterday = minute(-24 * 60);
    assert_eq!(standing.due(yesterday).repeats.len(), 1);
    assert_eq!(standing.next_due(), Some(yesterday + TimeDelta::minutes(5)));
}

#[test]
fn too_many_displace_the_oldest() {
    let mut standing = Standing::default();
    for number in 0..=MAX_STANDING as i64 {
        let raised = event(&number.to_string(), None, EventKind::Climate, minute(number));
        let changed = raise(&mut standing, &raised, minute(number));
        let displaced = changed.iter().find(|row| row.ended.is_some()).map(|row| row.event_id.as_str());
        assert_eq!(displaced, (number == MAX_STANDING as i64).then_some("0"));
    }
    assert_eq!(standing.list(None).as_array().unwrap().len(), MAX_STANDING);
}

#[test]
fn an_opening_is_the_last_to_give_way() {
    let mut standing = Standing::default();
    raise(&mut standing, &opening(), START);
    for number in 1..=MAX_STANDING as i64 {
        let raised = event(&number.to_string(), None, EventKind::Climate, minute(number));
        let changed = raise(&mut standing, &raised, minute(number));
        let displaced = changed.iter().find(|row| row.ended.is_some()).map(|row| row.event_id.as_str());
        assert_eq!(displaced, (number == MAX_STANDING as i64).then_some("1"));
    }
    assert_eq!(standing.list(Some("east-3")).as_array().unwrap().len(), 1);
}

#[test]
fn what_holds_now_is_told_and_the_row_stays_as_it_was_raised() {
    let mut standing = Standing::default();
    raise(&mut standing, &opening(), START);
    let id = opening().id;
    let now = || published(&opening(), "Edge out 12 cm.");
    assert!(standing.say_anew(&id, now()));
    assert!(!standing.say_anew(&id, now()), "nothing new");
    assert_eq!(standing.list(Some("east-3"))[0]["message"], "Edge out 12 cm.");
    let due = standing.due(minute(5));
    assert_eq!(
        (&due.repeats[0].payload["message"], &due.repeats[0].payload["repeat"]),
        (&json!("Edge out 12 cm."), &json!(1))
    );
    assert_eq!(due.changed[0].payload["message"], "Go and look.");
    standing.end(&id, minute(6));
    assert!(!standing.say_anew(&id, now()), "it stands no more");
    raise(&mut standing, &opening(), minute(7));
    assert_eq!(standing.list(Some("east-3"))[0]["message"], "Go and look.");
}
