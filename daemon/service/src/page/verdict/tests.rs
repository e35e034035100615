use std::sync::Arc;

use bloom_model::event::Severity;

use super::*;
use crate::facts::{AlarmFacts, IntakeFacts, StoreFacts, WorkingFacts};

/// 2027-06-02T12:00:00Z, nine in the morning in Halifax.
const NOON: Time = Time::from_unix_ms(1_811_937_600_000);

fn ago(minutes: i64) -> Time {
    NOON - TimeDelta::minutes(minutes)
}

/// A bench whose newest reading is so many minutes old.
fn bench(id: &str, minutes: Option<i64>) -> BenchFacts {
    BenchFacts {
        bench: Arc::from(id),
        plant: None,
        taxon: "Amorphophallus titanum".to_owned(),
        newest_reading: minutes.map(ago),
        silent: minutes.is_none_or(|minutes| minutes > 15),
        sensors_out: Vec::new(),
        climate: Vec::new(),
        state: None,
        tonight: None,
        edge: None,
    }
}

/// A house that has been up for a day and in which all is well.
fn house(benches: Vec<BenchFacts>) -> HouseFacts {
    let intake = IntakeFacts {
        intake: "/dev/ttyBENCH".to_owned(),
        readings: 9,
        refused: 0,
        out_since: None,
        why: None,
    };
    HouseFacts {
        time: NOON,
        site: "saltmarsh".into(),
        since: ago(24 * 60),
        run: 1,
        rehearsal: false,
        hottest: None,
        alarms: Vec::new(),
        benches,
        working: WorkingFacts {
            readings_taken: 9,
            broker: None,
            intakes: vec![intake],
            store: StoreFacts { failing_since: None, readings_waiting: 0, readings_dropped: 0 },
            clock_doubt: None,
        },
    }
}

fn glance(facts: &HouseFacts) -> Glance<'_> {
    let silent_after = TimeDelta::minutes(15);
    Glance { facts, stuck: &[], now: NOON, silent_after, is_machine: true, zone: chrono_tz::America::Halifax }
}

fn headline(facts: &HouseFacts) -> String {
    glance(facts).verdict().headline
}

fn alarm(acknowledged: Option<Time>) -> AlarmFacts {
    AlarmFacts {
        id: "east-3-2027a/opening-tonight/1".to_owned(),
        bench: Some("east-3".into()),
        event: "opening-tonight".to_owned(),
        severity: Severity::Alarm,
        raised: ago(9),
        message: "it opens".to_owned(),
        repeats: 0,
        acknowledged,
        acknowledged_by: None,
        comes_back: None,
        coming: None,
        coming_by: None,
    }
}

#[test]
fn that_no_alarm_stands_is_said_alone_only_where_everything_is_read() {
    let well = house(vec![bench("east-3", Some(1)), bench("east-4", Some(14))]);
    let verdict = glance(&well).verdict();
    assert_eq!(
        (verdict.headline.as_str(), verdict.beside.len(), verdict.trouble),
        ("No alarm stands.", 0, false)
    );
}

#[test]
fn what_is_not_read_is_the_headline_and_not_that_nothing_stands() {
    let of = |benches: Vec<BenchFacts>| headline(&house(benches));
    assert_eq!(
        of(vec![bench("east-3", Some(10 * 24 * 60)), bench("east-4", Some(1))]),
        "east-3 is not read."
    );
    assert_eq!(of(vec![bench("east-3", None)]), "east-3 is not read.", "a bench without sensors");
    assert_eq!(of(vec![bench("east-3", None), bench("east-4", None)]), "None of 2 benches is read.");
    let three = vec![bench("east-3", Some(16)), bench("east-4", None), bench("west-1", Some(1))];
    assert_eq!(of(three), "east-3, east-4 are not read.");
    let mut many: Vec<BenchFacts> = (0..8).map(|number| bench(&format!("east-{number}"), None)).collect();
    many.push(bench("west-1", Some(1)));
    assert_eq!(of(many), "8 of 9 benches are not read.");
    assert_eq!(of(Vec::new()), "No bench is configured: nothing is watched.");
}

#[test]
fn a_reading_that_has_grown_old_since_the_facts_were_laid_out_is_old() {
    let facts = house(vec![bench("east-3", Some(14))]);
    let verdict = Glance { now: NOON + TimeDelta::minutes(2), ..glance(&facts) }.verdict();
    assert_eq!(
        verdict.headline,
        "The watch has told nothing since 09:00: this page is from then. Look at the plants."
    );
    assert_eq!(verdict.beside, ["east-3 is not read."]);
}

#[test]
fn a_house_that_has_just_started_says_what_it_has_not_heard_yet() {
    let mut facts = house(vec![bench("east-3", Some(9)), bench("east-4", Some(0))]);
    facts.since = ago(1);
    assert_eq!(headline(&facts), "Nothing heard yet from east-3 since the start at 08:59.");
    facts.benches = vec![bench("east-3", None)];
    assert_eq!(headline(&facts), "east-3 is not read.");
    // a recording's hours are not those of the machine that plays it
    facts.benches = vec![bench("east-3", Some(9))];
    let verdict = Glance { is_machine: false, ..glance(&facts) }.verdict();
    assert_eq!(verdict.headline, "No alarm stands.");
}

#[test]
fn each_trouble_takes_the_place_of_all_being_well() {
    let well = || house(vec![bench("east-3", Some(1))]);
    let mut sensor = well();
    sensor.benches[0].sensors_out = vec!["tip-range"];
    assert!(headline(&sensor).starts_with("east-3: no distance to the spadix tip"), "{}", headline(&sensor));
    let mut line = well();
    line.working.intakes[0].out_since = Some(ago(3));
    line.working.intakes[0].why = Some("the device is gone".to_owned());
    assert_eq!(headline(&line), "Nothing comes by /dev/ttyBENCH since 08:57 (the device is gone).");
    let mut store = well();
    store.working.store.failing_since = Some(ago(2));
    assert!(headline(&store).starts_with("Nothing is recorded since 08:58."), "{}", headline(&store));
    for doubt in [ClockDoubt::NotSet, ClockDoubt::Stepped, ClockDoubt::NotSynchronised] {
        let mut clock = well();
        clock.working.clock_doubt = Some(doubt);
        assert!(headline(&clock).contains("hours on this page may be wrong"), "{doubt:?}");
    }
    let facts = well();
    let stuck = ["keeper".to_owned()];
    let verdict = Glance { stuck: &stuck, ..glance(&facts) }.verdict();
    assert!(verdict.headline.starts_with("Part of the watch hangs (keeper)"), "{}", verdict.headline);
}

#[test]
fn an_alarm_that_waits_comes_before_all_and_one_that_was_noted_after() {
    let mut facts = house(vec![bench("east-3", None), bench("east-4", Some(1))]);
    facts.alarms = vec![alarm(None)];
    let verdict = glance(&facts).verdict();
    assert_eq!(verdict.headline, "One alarm needs somebody.");
    assert_eq!(verdict.beside, ["east-3 is not read."]);
    facts.alarms = vec![alarm(Some(ago(1)))];
    let verdict = glance(&facts).verdict();
    assert_eq!(verdict.headline, "east-3 is not read.");
    assert_eq!(verdict.beside, ["One alarm stands, acknowledged."]);
}
