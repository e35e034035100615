//! The life of a bloom, every turn of it: by what the rangers see, by the clock, and by what a person books and takes back.

use end_to_end::bud::Recorder;
use end_to_end::course::{Course, DAY, HOUR, MIDNIGHT};
use end_to_end::house::{House, of_kind};
use serde_json::{Value, json};

const UNTIL_OPEN: [&str; 4] = ["bud-seen", "slowing", "opening-tonight", "full-open"];

fn after(before: &[&str], then: &[&str]) -> Vec<String> {
    before.iter().chain(then).map(|name| (*name).to_owned()).collect()
}

/// Common practice, no source: unpollinated, the structure rots soon after.
#[test]
fn without_fruit_a_bloom_is_spent_a_week_after_it_closed() {
    let mut course = Course::opened("east-3");
    course.grow(0.0, 12.0, 0.4);
    assert_eq!(course.told(), after(&UNTIL_OPEN, &["pollen-shed", "closed", "spent"]));
}

/// Common practice, no source: pollinated, the whole structure forms fruit.
#[test]
fn fruit_keeps_it_until_it_is_ripe_or_was_taken_back() {
    let mut course = Course::opened("east-3");
    course.grow(0.0, 4.0, 0.4);
    let set = course.book("fruit-set");
    course.grow(0.0, 20.0, 0.4);
    assert_eq!(course.told(), after(&UNTIL_OPEN, &["pollen-shed", "closed"]), "past the week of one without");
    let mut ripe = course.clone();
    ripe.book("fruit-ripe");
    assert_eq!(ripe.told(), after(&UNTIL_OPEN, &["pollen-shed", "closed", "fruit-ripe"]));
    course.book_for(set, "withdrawn fruit-set");
    course.grow(0.0, 0.1, 0.4);
    assert_eq!(course.told(), after(&UNTIL_OPEN, &["pollen-shed", "closed", "spent"]));
}

#[test]
fn growth_that_comes_back_was_no_slowing() {
    let mut course = Course::new("east-3");
    course.grow(9.0, 6.0, 0.0);
    course.grow(2.0, 3.0, 0.0);
    course.grow(9.0, 3.0, 0.0);
    assert_eq!(course.told(), ["bud-seen", "slowing", "slowing-over"]);
}

#[test]
fn a_booked_opening_that_is_taken_back_stands_down() {
    let mut course = Course::new("east-3");
    course.grow(9.0, 6.0, 0.0);
    let opened = course.book("opened");
    course.grow(9.0, 0.2, 0.0);
    course.book_for(opened, "withdrawn opened");
    course.grow(9.0, 0.2, 0.0);
    assert_eq!(course.told(), ["bud-seen", "opening-tonight", "stood-down"]);
}

#[test]
fn one_seen_fully_open_without_an_alarm_is_an_opening_from_the_hours_before() {
    let mut course = Course::new("east-3");
    course.grow(9.0, 6.0, 0.0);
    let seen = course.book("full-open");
    course.grow(0.0, 0.1, 0.0);
    let events = course.events();
    assert_eq!(course.told(), ["bud-seen", "opening-tonight", "full-open"]);
    let began = of_kind(&events, "opening-tonight")[0]["began"]
        .as_str()
        .map(str::parse::<chrono::DateTime<chrono::Utc>>);
    let Some(Ok(began)) = began else { panic!("{events:?}") };
    // crack to full in 4 (Atlanta 1998) to some 12 h (Ohio State 2013), median 8.5: config/profiles/titan-arum.toml
    let before_h = (seen - began.timestamp()) as f64 / 3600.0;
    assert!((4.0..=12.0).contains(&before_h), "{before_h}");
}

/// A person in the beam, or a mount knocked while the power was out, leaves the rim far out; the plant grows on.
#[test]
fn a_bud_that_grows_on_behind_an_alarm_has_not_opened() {
    let mut course = Course::new("east-3");
    course.grow(9.0, 20.0, 0.0);
    course.second += 3 * HOUR;
    course.height_m += 0.09 / 8.0;
    course.grow(9.0, 3.0, 0.3);
    assert_eq!(course.told(), ["bud-seen", "opening-tonight", "full-open", "pollen-shed", "stood-down"]);
    let mut seen = Course::new("east-3");
    seen.grow(9.0, 20.0, 0.0);
    seen.second += 3 * HOUR;
    seen.grow(9.0, 0.4, 0.3);
    seen.book("opened");
    seen.grow(9.0, 2.0, 0.3);
    assert!(!seen.told().contains(&"stood-down".to_owned()), "a person saw it open: {:?}", seen.told());
}

/// Somebody who works before the bud and comes nearer by and by looks like a rim that sets out. Once the edge is seen where it
/// was, it has not opened, and above all it has not closed: the record's earliest began to close after 14 h (Fairchild 2003).
#[test]
fn an_edge_that_is_back_where_it_was_within_hours_has_not_opened() {
    let mut course = Course::new("east-3");
    course.grow(9.0, 6.0, 0.0);
    course.grow(2.0, 3.5, 0.0);
    for minute in 1..=48 {
        course.second += 60;
        let seen = 0.14 * f64::from(minute) / 48.0;
        course.recorder.pack(course.second, Some(course.height_m), Some(seen), 0.001);
    }
    course.grow(2.0, 1.0, 0.0);
    assert_eq!(course.told(), ["bud-seen", "slowing", "opening-tonight", "stood-down"]);
    course.open(0.4, 6.0);
    course.grow(0.0, 0.1, 0.4);
    let told = ["bud-seen", "slowing", "opening-tonight", "stood-down", "opening-tonight", "full-open"];
    assert_eq!(course.told(), told, "the watch goes on");
}

/// A hand at the level where the rim was an hour ago, for five minutes: the opening goes on behind it.
#[test]
fn what_comes_before_an_opening_rim_does_not_stand_the_alarm_down() {
    let mut course = Course::new("east-3");
    course.grow(9.0, 6.0, 0.0);
    course.grow(2.0, 3.0 + 14.0 / 24.0, 0.0);
    let hand = course.second + 2 * HOUR..course.second + 2 * HOUR + 480;
    let from = course.second;
    while course.second < from + 6 * HOUR {
        course.second += 60;
        let through = (course.second - from) as f64 / (6 * HOUR) as f64;
        let rim = 0.2 * (1.0 - (std::f64::consts::PI * through).cos());
        let seen = if hand.contains(&course.second) { 0.01 } else { rim };
        course.recorder.pack(course.second, Some(course.height_m), Some(seen), 0.001);
    }
    course.grow(0.0, 0.1, 0.4);
    assert_eq!(course.told(), UNTIL_OPEN);
}

/// A mount that was knocked while the power was out: the edge stands 8 cm out, still, and no opening stands still.
#[test]
fn an_edge_that_stands_still_further_out_has_not_opened() {
    let mut course = Course::new("east-3");
    course.grow(9.0, 6.0, 0.0);
    course.grow(2.0, 3.5, 0.0);
    course.second += HOUR / 2;
    course.grow(2.0, 1.0, 0.08);
    assert_eq!(course.told(), ["bud-seen", "slowing"]);
}

#[test]
fn a_closing_that_is_taken_back_is_open_again() {
    let mut course = Course::opened("east-3");
    course.grow(0.0, 0.1, 0.4);
    let closed = course.book("closed");
    course.grow(0.0, 0.05, 0.4);
    course.book_for(closed, "withdrawn closed");
    course.grow(0.0, 0.05, 0.4);
    assert_eq!(course.told(), after(&UNTIL_OPEN, &["closed", "full-open"]));
}

#[test]
fn one_given_up_is_a_bud_again_when_a_person_says_so_and_opens_all_the_same() {
    let mut course = Course::new("east-3");
    course.grow(9.0, 6.0, 0.0);
    let collapsed = course.book("collapsed");
    course.grow(0.0, 0.5, 0.0);
    course.book_for(collapsed, "withdrawn collapsed");
    course.grow(2.0, 0.5, 0.0);
    assert_eq!(course.told(), ["bud-seen", "aborted", "bud-seen"]);
    let blooms: Vec<Value> =
        of_kind(&course.events(), "bud-seen").iter().map(|event| event["bloom"].clone()).collect();
    assert_eq!(blooms[0], blooms[1], "the same bloom goes on");

    let mut stopped = Course::new("east-3");
    stopped.grow(9.0, 6.0, 0.0);
    stopped.grow(0.0, 20.0, 0.0);
    assert_eq!(stopped.told(), ["bud-seen", "slowing", "aborted"]);
    stopped.open(0.4, 6.0);
    stopped.grow(0.0, 0.1, 0.4);
    assert_eq!(stopped.told(), ["bud-seen", "slowing", "aborted", "opening-tonight", "full-open"]);
}

#[test]
fn what_a_person_calls_a_leaf_may_unfold_without_an_alarm() {
    let mut course = Course::new("east-3");
    course.grow(9.0, 6.0, 0.0);
    course.book("leaf");
    course.grow(9.0, 3.0, 0.0);
    course.open(0.3, 30.0);
    course.grow(1.0, 2.0, 0.3);
    assert_eq!(course.told(), ["bud-seen", "aborted"]);
}

/// From above: a bud that grows for six days, then a tip that rises by 12 cm in an hour, more than twice the profile's spike.
fn tip_rises(rim_m: Option<f64>) -> Vec<Value> {
    let (mut recorder, mut second, mut height_m) = (Recorder::new("east-3"), MIDNIGHT, 0.6);
    let mut rises = |cm_hour: f64, hours: i64, every_s: i64| {
        for _ in 0..hours * HOUR / every_s {
            second += every_s;
            height_m += cm_hour / 100.0 * every_s as f64 / HOUR as f64;
            recorder.pack(second, Some(height_m), rim_m, 0.001);
        }
    };
    rises(9.0 / 24.0, 6 * 24 + 14, 600);
    rises(12.0, 1, 60);
    rises(0.0, 2, 60);
    let rim = if rim_m.is_some() { "\nrim = { mount_distance_m = 0.95 }" } else { "" };
    House::new()
        .with_bench_of("east-3", &format!("tip = {{ mount_height_m = 3.1 }}{rim}"))
        .replay(&recorder.text)
}

/// Judgement: no source gives a rate; a bud grows by 20 cm a day at most (the profile's sources).
#[test]
fn a_tip_that_shoots_up_is_an_opening_where_no_side_ranger_sees() {
    let events = tip_rises(None);
    let alarms = of_kind(&events, "opening-tonight");
    assert_eq!(alarms.len(), 1, "{events:#?}");
    assert_eq!((&alarms[0]["told_by"], &alarms[0]["severity"]), (&"tip-range".into(), &"alarm".into()));
    let rate = alarms[0]["rate_cm_hour"].as_f64().unwrap_or_default();
    assert!((rate - 12.0).abs() < 1.5, "{rate}");

    // the side ranger sees that the rim stands: somebody is under the roof
    assert!(of_kind(&tip_rises(Some(0.0)), "opening-tonight").is_empty());
}

/// Fifteen hours after the crack, three before the stigmas are past it (the profile's sources), unless pollination was booked.
#[test]
fn the_end_of_the_receptive_hours_is_an_alarm_while_nobody_has_pollinated() {
    let hours_from_crack = |event: &Value| {
        let second = chrono::DateTime::parse_from_rfc3339(event["time"].as_str().unwrap_or_default());
        second.map_or(f64::NAN, |time| (time.timestamp() - crack()) as f64 / HOUR as f64)
    };
    let mut course = Course::opened("east-3");
    course.grow(0.0, 1.5, 0.4);
    let events = course.events();
    let told = of_kind(&events, "receptive-ending");
    assert_eq!(told.len(), 1);
    assert_eq!(told[0]["severity"], "alarm");
    let hours = hours_from_crack(told[0]);
    assert!((hours - 15.0).abs() < 0.6, "{hours} h after the crack");

    // booked before it
    let mut course = Course::opened("east-3");
    course.grow(0.0, 0.2, 0.4);
    course.book("pollinated");
    course.grow(0.0, 1.5, 0.4);
    assert!(of_kind(&course.events(), "receptive-ending").is_empty());
}

/// When the rim of [`Course::opened`] set out.
const fn crack() -> i64 {
    MIDNIGHT + 9 * DAY + 14 * HOUR
}

#[test]
fn a_silence_at_a_bud_that_was_given_up_is_an_alarm_when_it_is_watched_again() {
    let mut course = Course::new("east-3");
    course.grow(9.0, 6.0, 0.0);
    course.book("collapsed");
    course.grow_unseen(0.0, 2.0);
    course.book("emerged");
    course.grow_unseen(9.0, 1.0);
    let events = course.events();
    let severities: Vec<_> =
        of_kind(&events, "sensor-silent").iter().map(|event| &event["severity"]).collect();
    assert_eq!(severities, ["warning", "alarm"]);
}

/// A bench whose rangers fall silent, in bud or when its bloom is over, and are silent still when the next bud comes: its silences.
fn silences_over_two_blooms(in_bud: bool) -> Vec<(Value, Value)> {
    let mut course = if in_bud { Course::new("east-3") } else { Course::opened("east-3") };
    if in_bud {
        course.grow(9.0, 6.0, 0.0);
        course.grow_unseen(9.0, 1.0);
        course.book("opened");
    } else {
        course.grow(0.0, 4.0, 0.4);
    }
    course.grow_unseen(0.0, 20.0);
    assert_eq!(course.told().last().map(String::as_str), Some("spent"));
    course.book("emerged");
    course.grow_unseen(9.0, 2.0);
    course.grow(9.0, 0.2, 0.0);
    let events = course.events();
    assert_eq!(of_kind(&events, "bud-seen").len(), 2);
    assert_eq!(of_kind(&events, "sensor-back").len(), 1);
    of_kind(&events, "sensor-silent")
        .iter()
        .map(|event| (event["bloom"].clone(), event["severity"].clone()))
        .collect()
}

#[test]
fn a_silence_told_as_an_alarm_in_one_bloom_stands_over_the_beginning_of_the_next() {
    assert_eq!(silences_over_two_blooms(true), [(json!("east-3-2027a"), json!("alarm"))]);
}

#[test]
fn a_silence_told_as_a_warning_when_a_bloom_was_over_is_an_alarm_when_the_next_begins() {
    assert_eq!(
        silences_over_two_blooms(false),
        [(json!("east-3-2027a"), json!("warning")), (json!("east-3-2027b"), json!("alarm")),]
    );
}

/// The alarm is over when one ranger is back; when that one goes, too, beside no bud, the next bud is unwatched.
#[test]
fn rangers_that_went_one_after_the_other_are_an_alarm_when_the_next_bud_comes() {
    let mut course = Course::new("east-3");
    course.grow(9.0, 6.0, 0.0);
    course.grow_unseen(9.0, 1.0);
    course.book("opened");
    course.grow_seen_from_above(0.0, 15.0);
    course.grow_unseen(0.0, 5.0);
    course.book("emerged");
    course.grow_unseen(9.0, 1.0);
    let events = course.events();
    let severities: Vec<_> =
        of_kind(&events, "sensor-silent").iter().map(|event| &event["severity"]).collect();
    assert_eq!(severities, ["alarm", "warning", "alarm"]);
}

#[test]
fn a_ranger_that_is_hung_anew_is_no_growth_and_no_opening() {
    let mut course = Course::new("east-3");
    course.grow(9.0, 6.0, 0.0);
    // both 30 cm further off: the recorder keeps the old mounts
    course.second += 60;
    course.book_for(course.second, "mount-moved rim=1.25 tip=3.4");
    course.recorder.rim_mount_m = 1.25;
    course.height_m -= 0.3;
    course.grow(9.0, 3.0, 0.0);
    assert_eq!(course.told(), ["bud-seen"]);
    let events = course.events();
    let mornings = of_kind(&events, "morning");
    let last = mornings.last().map(|event| (*event).clone()).unwrap_or_default();
    let (height_m, growth) = (last["height_m"].as_f64(), last["growth_cm_day"].as_f64());
    // eight days until the last morning at seven, at 9 cm
    let true_m = 0.6 + 0.09 * (8.0 + 7.0 / 24.0);
    assert!(height_m.is_some_and(|height_m| (height_m - true_m).abs() < 0.02), "{last:#}, and not {true_m}");
    assert!(growth.is_some_and(|growth| (growth - 9.0).abs() < 1.0), "{last:#}");
    // and the opening is seen from where it hangs now
    course.grow(2.0, 3.0 + 14.0 / 24.0, 0.0);
    course.open(0.4, 6.0);
    course.grow(0.0, 0.1, 0.4);
    assert_eq!(course.told(), UNTIL_OPEN);
}
