//! What reaches the alarm command, and when.

use bloom_model::event::{Details, EventKind};
use bloom_model::site::Site;
use bloom_model::spec::{SiteSpec, Units};
use serde_json::json;
use tempfile::TempDir;

use super::*;
use crate::clock::fake::FakeMachine;
use crate::clock::wall_now;
use crate::config::AlarmCommand;
use crate::notify::command::CommandSpec;
use crate::store::{Reader, Store};

/// What the events of these tests say.
pub(in crate::keeper) const SENTENCE: &str = "TEST ALARM east-3: acknowledge it now. Nothing is wrong; your answer proves that an alarm reaches somebody.";

pub(in crate::keeper) struct House {
    pub(in crate::keeper) keeper: Keeper,
    pub(in crate::keeper) caller: Caller,
    pub(in crate::keeper) reader: Reader,
    pub(in crate::keeper) direct: Direct,
    pub(in crate::keeper) machine: FakeMachine,
    _folder: TempDir,
}

impl House {
    pub(in crate::keeper) fn new(broker: bool, rehearsal: bool) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("anthesisd.db");
        let store = Store::open(&path).unwrap();
        let command = AlarmCommand { program: "siren".to_owned(), arguments: vec![] };
        let caller = Caller::new(&CommandSpec::new(command, broker));
        let direct = Direct::default();
        let outgoing = broker.then(|| Outgoing {
            wake: watch::channel(0).0,
            states: watch::channel(Arc::new(Vec::new())).0,
            direct: direct.clone(),
            taken: Taken::default(),
        });
        let topics = Topics::new("anthesis", "saltmarsh");
        let voice = Voice::new(topics, outgoing, Some(caller.clone()), 1, wall_now(), rehearsal);
        let site = Site::new(
            SiteSpec {
                name: "saltmarsh".into(),
                timezone: chrono_tz::America::Halifax,
                units: Units::Metric,
                pressure_kpa: 101.325,
                morning_hour: 7,
                silent_after: chrono::TimeDelta::minutes(15),
                heat: bloom_model::heat::HeatLimits::default(),
                test_alarms: false,
            },
            vec![],
        );
        let reader = Reader::open(&path).unwrap();
        let machine = FakeMachine::at(wall_now());
        let keeper = Keeper::take_up(store, site, Arc::new(machine.clock()), voice, vec![], None).unwrap();
        Self { keeper, caller, reader, direct, machine, _folder: folder }
    }

    /// Raises an event now, and gives its id.
    pub(in crate::keeper) fn raise(
        &mut self,
        kind: EventKind,
        severity: Severity,
        ends: Vec<String>,
    ) -> String {
        let time = self.keeper.now();
        let id = format!("east-3-2027a/{}/1", kind.name());
        self.keeper.raise(&Event {
            id: id.clone(),
            time,
            site: "saltmarsh".into(),
            bench: Some("east-3".into()),
            plant: None,
            bloom: None,
            kind,
            severity,
            details: Details::Test {},
            ends,
            stands_until: None,
        });
        id
    }

    /// What waits for the broker: the ends of the topics, and the payloads.
    fn outbox(&self) -> Vec<(String, String)> {
        let (mut rows, mut after) = (Vec::new(), 0);
        while let Some(row) = self.reader.oldest_outgoing(after).unwrap() {
            after = row.id;
            let end = row.topic.strip_prefix("anthesis/saltmarsh/").unwrap().to_owned();
            rows.push((end, row.payload));
        }
        rows
    }

    pub(in crate::keeper) fn row_of(&self, id: &str) -> Option<i64> {
        let mut after = 0;
        while let Some(row) = self.reader.oldest_outgoing(after).unwrap() {
            if row.topic.ends_with("/event") && row.payload.contains(id) {
                return Some(row.id);
            }
            after = row.id;
        }
        None
    }
}

#[test]
fn an_alarm_is_handed_over_when_it_is_committed_and_let_go_when_the_broker_has_it() {
    let mut house = House::new(true, false);
    let id = house.raise(EventKind::OpeningTonight, Severity::Alarm, vec![]);
    house.raise(EventKind::Morning, Severity::Notice, vec![]);
    assert_eq!(house.caller.waiting(), [], "only what is committed leaves the house");
    house.keeper.commit().unwrap();
    let row = house.row_of(&id);
    let waiting = house.caller.waiting();
    assert_eq!((waiting.len(), waiting[0].row), (1, row));
    assert!(row.is_some());
    assert_eq!(serde_json::from_str::<Value>(&waiting[0].payload).unwrap()["id"], id);

    house.keeper.hear_broker(BrokerNews::Delivered(row.unwrap()));
    assert_eq!(house.caller.waiting(), []);

    // the repeat is another row of the same alarm
    let later = house.keeper.standing.next_due().unwrap();
    house.keeper.repeat_alarms(later);
    house.keeper.commit().unwrap();
    let waiting = house.caller.waiting();
    assert_eq!(serde_json::from_str::<Value>(&waiting[0].payload).unwrap()["repeat"], 1);
    assert!(waiting[0].row > row);
    house.keeper.hear_broker(BrokerNews::Delivered(row.unwrap()));
    assert_eq!(house.caller.waiting(), waiting, "the row before says nothing of this one");
}

#[test]
fn an_event_goes_out_as_a_bare_sentence_too_and_its_message_comes_first() {
    for rehearsal in [false, true] {
        let mut house = House::new(true, rehearsal);
        house.raise(EventKind::OpeningTonight, Severity::Alarm, vec![]);
        house.raise(EventKind::Morning, Severity::Notice, vec![]);
        house.keeper.commit().unwrap();
        let sentence = if rehearsal { rehearsed(SENTENCE) } else { SENTENCE.to_owned() };
        let begins = format!("{{\"message\":\"{sentence}\",");
        let listed = |house: &House| {
            let of = |(topic, payload): (String, String)| match topic.as_str() {
                "east-3/event" | "east-3/alarm" => {
                    assert!(payload.trim_start_matches('[').starts_with(&begins), "{topic}: {payload}");
                    topic
                }
                _ => format!("{topic} {payload}"),
            };
            house.outbox().into_iter().map(of).collect::<Vec<_>>()
        };
        let notice = format!("say/notice {sentence}");
        let alarm = format!("say/alarm {sentence}");
        assert_eq!(listed(&house), [&*alarm, "east-3/event", "east-3/alarm", &*notice, "east-3/event"]);

        // a repeat takes the place of both that wait
        let later = house.keeper.standing.next_due().unwrap();
        house.keeper.repeat_alarms(later);
        house.keeper.commit().unwrap();
        assert_eq!(listed(&house), [&*notice, "east-3/event", &*alarm, "east-3/event", "east-3/alarm"]);
    }
}

#[test]
fn an_alarm_that_nobody_answers_goes_the_second_way_though_the_broker_took_it() {
    let mut house = House::new(true, false);
    let id = house.raise(EventKind::Test, Severity::Alarm, vec![]);
    house.keeper.commit().unwrap();
    for repeat in 1..=6 {
        let row = house.row_of(&id).unwrap();
        house.keeper.hear_broker(BrokerNews::Connected { resumed: false });
        house.keeper.hear_broker(BrokerNews::Delivered(row));
        assert_eq!(house.caller.waiting(), [], "before repeat {repeat}");
        let later = house.keeper.standing.next_due().unwrap();
        house.keeper.repeat_alarms(later);
        house.keeper.commit().unwrap();
    }
    let waiting = house.caller.waiting();
    assert!(waiting[0].unanswered);
    house.keeper.hear_broker(BrokerNews::Delivered(house.row_of(&id).unwrap()));
    assert_eq!(house.caller.waiting(), waiting, "the broker's word is no person's");
    house.keeper.acknowledge(std::slice::from_ref(&id), None, Some("Robin")).unwrap();
    house.keeper.commit().unwrap();
    assert_eq!(house.caller.waiting(), []);
}

#[test]
fn what_a_person_noted_or_an_event_ended_is_let_go_when_that_is_committed() {
    let mut house = House::new(true, false);
    let opening = house.raise(EventKind::OpeningTonight, Severity::Alarm, vec![]);
    let pollen = house.raise(EventKind::PollenShed, Severity::Alarm, vec![]);
    house.keeper.commit().unwrap();
    assert_eq!(house.caller.waiting().len(), 2);
    house.keeper.acknowledge(std::slice::from_ref(&pollen), None, Some("Robin")).unwrap();
    house.raise(EventKind::StoodDown, Severity::Notice, vec![opening]);
    assert_eq!(house.caller.waiting().len(), 2);
    house.keeper.commit().unwrap();
    assert_eq!(house.caller.waiting(), []);
}

#[test]
fn without_a_broker_the_outbox_stays_empty_and_a_repeat_is_committed_at_once() {
    let mut house = House::new(false, true);
    let id = house.raise(EventKind::OpeningTonight, Severity::Alarm, vec![]);
    house.raise(EventKind::Morning, Severity::Notice, vec![]);
    house.keeper.commit().unwrap();
    assert_eq!(house.reader.outbox().unwrap().rows, 0, "what nobody fetches would wait for ever");
    assert_eq!(house.row_of(&id), None);
    let waiting = house.caller.waiting();
    assert_eq!((waiting.len(), waiting[0].row), (1, None));
    let payload: Value = serde_json::from_str(&waiting[0].payload).unwrap();
    assert_eq!((&payload["rehearsal"], &payload["message"]), (&json!(true), &json!(rehearsed(SENTENCE))));

    assert!(!house.keeper.urgent);
    let later = house.keeper.standing.next_due().unwrap();
    house.keeper.repeat_alarms(later);
    assert!(house.keeper.urgent);
}
