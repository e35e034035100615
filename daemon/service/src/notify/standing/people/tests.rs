use bloom_model::event::Event;
use serde_json::{Value, json};

use super::super::Repeat;
use super::super::tests::{START, event, ids, minute, opening, raise};
use super::*;

const EAST: Option<&str> = Some("east-3");
const OPENED: &str = "east-3-2027a/opening-tonight/1";

fn cold(raised: Time) -> Event {
    event("cold", EAST, EventKind::Climate, raised)
}

/// The opening stands, and the broker has had it since a second after it was raised.
fn told() -> Standing {
    let mut standing = Standing::default();
    raise(&mut standing, &opening(), START);
    assert!(standing.delivered(OPENED, START + TimeDelta::seconds(1)).is_some());
    standing
}

fn seconds(seconds: i64) -> Time {
    START + TimeDelta::seconds(seconds)
}

fn names(rows: &[Alarm]) -> Vec<&str> {
    rows.iter().map(|row| row.event_id.as_str()).collect()
}

/// Somebody says `ok` at that instant.
fn ok(standing: &mut Standing, now: Time) -> Word {
    standing.acknowledge_read(EAST, now - READ_IN, now).unwrap()
}

/// Minutes of the repeats up to a minute, and whether each calls by the alarm command, as a keeper that always looks in time sees them.
fn repeats_until(standing: &mut Standing, last: i64) -> Vec<(i64, bool)> {
    let mut seen = vec![];
    while let Some(at) = standing.next_due().filter(|at| *at <= minute(last)) {
        let due: Vec<Repeat> = standing.due(at).repeats;
        seen.extend(due.iter().map(|repeat| ((at - START).num_minutes(), repeat.unanswered)));
    }
    seen
}

#[test]
fn ok_bears_on_what_the_broker_has_had_for_ten_seconds_and_on_nothing_newer() {
    let mut standing = Standing::default();
    raise(&mut standing, &opening(), START);
    assert_eq!(names(&ok(&mut standing, minute(3)).unread), [OPENED], "the broker has not had it");
    standing.delivered(OPENED, minute(3));
    for (after, taken) in [(0, false), (9, false), (10, true)] {
        let mut standing = standing.clone();
        let word = ok(&mut standing, minute(3) + TimeDelta::seconds(after));
        assert_eq!((word.changed.len(), word.unread.len()), (taken.into(), (!taken).into()), "{after} s");
    }
    assert_eq!(standing.delivered(OPENED, minute(4)), None, "a repeat is no news of when it was had first");
    raise(&mut standing, &cold(minute(4)), minute(4));
    let word = ok(&mut standing, minute(4));
    assert_eq!((names(&word.changed), names(&word.unread)), (vec![OPENED], vec!["cold"]));
    assert_eq!(ok(&mut standing, minute(4)).changed, [], "it is taken note of once");
    assert_eq!(standing.acknowledge_read(None, minute(4), minute(4)), Err(Unheard::NoneStands));
    assert_eq!(standing.acknowledge_read(Some("west-1"), minute(4), minute(4)), Err(Unheard::NoneStands));
}

#[test]
fn an_opening_that_nobody_put_a_name_to_comes_back_after_half_an_hour() {
    let mut standing = told();
    raise(&mut standing, &cold(START), START);
    standing.delivered("cold", START);
    assert_eq!(repeats_until(&mut standing, 6).len(), 2);
    assert_eq!(ok(&mut standing, minute(6)).changed.len(), 2);
    assert_eq!(standing.list(EAST)[0]["comes_back"], json!(minute(36)));
    assert_eq!(standing.list(EAST)[1].get("comes_back"), None, "no other alarm does");
    // kept over a restart
    let mut standing = Standing::restore(standing.alarms().to_vec());
    let due = standing.due(minute(36));
    assert_eq!((due.repeats.len(), &due.repeats[0].payload["repeat"]), (1, &json!(2)), "counted on");
    assert_eq!(due.changed[0].acknowledged, None, "it stands again as if nobody had seen it");
    assert_eq!(standing.list(EAST)[0].get("acknowledged"), None);
    let again = repeats_until(&mut standing, 120);
    assert_eq!(again[..4], [(41, false), (46, false), (56, false), (76, true)], "paced anew");
    let list: Value = standing.list(EAST);
    assert_eq!((&list[0]["unanswered_min"], &list[0]["repeat"]), (&json!(80), &json!(7)));
}

#[test]
fn a_name_or_a_sign_keeps_it_from_coming_back_and_a_second_ok_does_not_put_it_off() {
    let mut standing = told();
    assert_eq!(ok(&mut standing, minute(1)).changed.len(), 1);
    assert_eq!(ok(&mut standing, minute(20)), Word::default());
    assert_eq!(standing.next_due(), Some(minute(31)));
    for at in [seconds(30), minute(1)] {
        assert_eq!(standing.clone().somebody_was_there("east-3", at, minute(2)).0, [], "that was before");
    }
    assert_eq!(standing.clone().somebody_was_there("west-1", minute(2), minute(2)).0, []);
    let mut with_sign = standing.clone();
    let (settled, noted) = with_sign.somebody_was_there("east-3", minute(2), minute(2));
    assert_eq!((names(&settled), noted), (vec![OPENED], vec![]));
    assert_eq!((settled[0].acknowledged, with_sign.next_due()), (Some(minute(1)), None));
    let named = standing.acknowledge(&ids(&[OPENED]), None, Some("Robin"), minute(3)).unwrap();
    assert_eq!(named[0].acknowledged_by.as_deref(), Some("Robin"), "now it is said who");
    assert_eq!(standing.next_due(), None);
    assert_eq!(standing.acknowledge(&ids(&[OPENED]), None, Some("Kim"), minute(4)).unwrap(), []);
}

/// Robin says, at a minute, to be there at another.
fn comes(standing: &mut Standing, now: i64, until: i64) -> Result<Word, Unheard> {
    let now = minute(now);
    let seen = Seen { read: now - READ_IN, ids: &[] };
    standing.wait_for(EAST, seen, minute(until), Some("Robin"), now)
}

#[test]
fn repeats_wait_for_whoever_comes_and_then_come_back() {
    let mut standing = told();
    raise(&mut standing, &event("other", Some("west-1"), EventKind::Climate, START), START);
    raise(&mut standing, &cold(START), START);
    assert_eq!(names(&comes(&mut standing, 6, 60).unwrap().changed), [OPENED, "cold"]);
    assert_eq!(comes(&mut standing, 7, 60).unwrap(), Word::default(), "nothing new");
    let listed = standing.list(EAST);
    assert_eq!(listed[0]["coming"], json!({ "until": minute(60), "by": "Robin" }));
    assert_eq!(listed[0].get("acknowledged"), None);
    let mut standing = Standing::restore(standing.alarms().to_vec());
    assert!(standing.due(minute(59)).repeats.iter().all(|repeat| repeat.event_id == "other"));
    let back = standing.due(minute(60)).repeats;
    assert_eq!(back.len(), 2, "{back:?}");
    assert!(standing.alarms().iter().all(|row| row.coming.is_none()));
    assert!(standing.due(minute(65)).repeats.iter().any(|repeat| repeat.event_id == OPENED));
}

#[test]
fn a_new_alarm_waits_too_once_it_is_told_and_an_opening_never_does() {
    let mut standing = Standing::default();
    raise(&mut standing, &cold(START), START);
    comes(&mut standing, 1, 60).unwrap();
    raise(&mut standing, &event("hot", EAST, EventKind::Climate, minute(2)), minute(2));
    raise(&mut standing, &opening(), minute(2));
    assert_eq!(repeats_until(&mut standing, 12), [(7, false), (12, false)], "of the opening alone");
    // it was not had for long enough when that was said
    assert_eq!(names(&comes(&mut standing, 12, 50).unwrap().unread), [OPENED]);
    standing.delivered(OPENED, minute(13));
    assert_eq!(names(&comes(&mut standing, 20, 50).unwrap().changed), [OPENED]);
    // the sign of a moment in which the new alarm was not raised yet says nothing of it
    let (_, noted) = standing.clone().somebody_was_there("east-3", minute(2), minute(20));
    assert_eq!(names(&noted), ["cold"]);
    let (_, noted) = standing.somebody_was_there("east-3", minute(30), minute(30));
    assert_eq!(names(&noted), ["cold", "hot", OPENED], "in the order in which they were raised");
    assert!(noted.iter().all(|row| row.acknowledged_by.as_deref() == Some("Robin")));
    assert_eq!(standing.next_due(), None);
}

#[test]
fn nobody_holds_an_alarm_for_longer_than_two_hours_however_often_they_say_so() {
    let mut standing = told();
    let latest = Unheard::TooFarAhead(minute(126));
    assert_eq!(comes(&mut standing.clone(), 6, 127), Err(latest));
    assert_eq!(comes(&mut standing, 6, 40).unwrap().changed.len(), 1);
    assert_eq!(comes(&mut standing, 39, 126).unwrap().changed.len(), 1);
    assert_eq!(comes(&mut standing, 40, 127), Err(latest));
    assert_eq!(comes(&mut standing, 41, 45).unwrap().changed.len(), 1, "sooner is another word");
    assert_eq!(standing.due(minute(45)).repeats.len(), 1);
    assert_eq!(comes(&mut standing, 46, 166).unwrap().changed.len(), 1, "it was told again meanwhile");
    assert_eq!(standing.next_due(), Some(minute(166)));
    assert_eq!(
        standing.clone().due(minute(-1)).repeats.len(),
        1,
        "a clock that was set back silences nothing"
    );
}

#[test]
fn whoever_comes_after_an_ok_without_a_name_is_waited_for() {
    let mut standing = told();
    ok(&mut standing, minute(1));
    assert_eq!(comes(&mut standing, 2, 60).unwrap().changed.len(), 1);
    let row = &standing.alarms()[0];
    assert_eq!((row.acknowledged, row.next_repeat), (None, Some(minute(60))));
    assert_eq!(ok(&mut standing, minute(3)).changed.len(), 1, "that they are there, perhaps");
    assert_eq!(standing.next_due(), Some(minute(33)));
    standing.acknowledge(&ids(&[OPENED]), None, Some("Robin"), minute(4)).unwrap();
    assert_eq!(comes(&mut standing, 5, 60).unwrap(), Word::default(), "what is acknowledged stays so");
}

#[test]
fn an_opening_waits_for_whoever_was_shown_it_though_no_broker_has_it() {
    let mut standing = Standing::default();
    raise(&mut standing, &event(OPENED, Some("east-3"), EventKind::OpeningTonight, START), START);
    let coming = |standing: &mut Standing, ids: &[String]| {
        let seen = Seen { read: minute(4), ids };
        standing.wait_for(EAST, seen, minute(60), Some("Robin"), minute(5)).unwrap()
    };
    let word = coming(&mut standing, &[]);
    assert_eq!((names(&word.changed), names(&word.unread)), (vec![], vec![OPENED]));
    let word = coming(&mut standing, &ids(&[OPENED]));
    assert_eq!((names(&word.changed), names(&word.unread)), (vec![OPENED], vec![]));
    assert_eq!(standing.next_due(), Some(minute(60)));
}
