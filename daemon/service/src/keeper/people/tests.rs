use serde_json::json;

use super::super::house::House;
use super::*;

const ACKNOWLEDGE: &str = "anthesis/saltmarsh/acknowledge";

/// A house that hears people.
struct Ear {
    house: House,
    packet: u16,
}

fn message(number: u16, topic: &str, payload: &str) -> Heard {
    Heard {
        number: u64::from(number),
        topic: topic.to_owned(),
        payload: payload.as_bytes().to_vec(),
        retained: false,
        kept: false,
        again: false,
        packet: number,
    }
}

impl Ear {
    fn new(benches: &[&'static str]) -> Self {
        Self { house: House::live(benches, 1), packet: 0 }
    }

    fn next(&mut self, topic: &str, payload: &str) -> Heard {
        self.packet += 1;
        message(self.packet, topic, payload)
    }

    fn sign(&mut self, bench: &str, sign: &str) {
        let heard =
            self.next(&format!("anthesis/saltmarsh/{bench}/sign"), &json!({ "sign": sign }).to_string());
        self.house.keeper.hear_person(heard);
        self.house.machine.pass(TimeDelta::seconds(10));
        self.house.keeper.pass_time();
    }

    fn commit(&mut self) {
        self.house.keeper.commit().unwrap();
    }

    fn count(&mut self, kind: &str) -> usize {
        self.commit();
        self.house.told(kind).len()
    }
}

#[test]
fn each_topic_has_its_turn_however_many_come_on_another() {
    let mut people = People::default();
    for number in 1..=100 {
        people.gather(message(number, "anthesis/saltmarsh/east-3/sign", "{}"));
    }
    people.gather(message(200, "anthesis/saltmarsh/west-1/sign", "{}"));
    people.gather(message(201, ACKNOWLEDGE, "{}"));
    let heard: Vec<_> = (0..3).map(|_| people.next().unwrap().number).collect();
    assert_eq!(heard, [201, 1, 200]);
    assert_eq!(std::iter::from_fn(|| people.next()).count(), 99);
    assert!(!people.waits() && people.waiting.is_empty());
}

#[test]
fn what_changes_nothing_makes_no_commit_urgent_and_is_answered_at_once() {
    let mut people = Ear::new(&["east-3"]);
    for (topic, payload) in [
        (ACKNOWLEDGE, r#"{"id":"none"}"#),
        (ACKNOWLEDGE, "garbage"),
        ("anthesis/saltmarsh/nowhere/sign", r#"{"sign":"scent"}"#),
        ("anthesis/saltmarsh/east-3/sign", r#"{"sign":"withdrawn"}"#),
    ] {
        let heard = people.next(topic, payload);
        people.house.keeper.hear_person(heard);
        assert!(people.house.keeper.people.unanswered.is_empty(), "{payload}");
    }
    people.sign("east-3", "withdrawn scent");
    let keeper = &people.house.keeper;
    assert!(!keeper.urgent, "nobody is told anything");
    assert_eq!(keeper.people.unanswered.len(), 1, "answered with the commit that writes it");
    people.sign("east-3", "scent");
    assert!(people.house.keeper.urgent, "it is told that it is booked");
    assert_eq!(people.count("sign-booked"), 1);
    assert!(people.house.keeper.people.unanswered.is_empty());
}

/// MQTT 3.1.1 (OASIS standard, 2014), section 3.3.1.1: a message that is handed over again says so.
#[test]
fn one_that_is_handed_over_again_acts_once_after_a_restart_too() {
    let mut people = Ear::new(&["east-3"]);
    let first = people.next("anthesis/saltmarsh/east-3/sign", r#"{"sign":"scent"}"#);
    people.house.keeper.hear_person(first.clone());
    assert_eq!(people.count("sign-booked"), 1);
    let again = Heard { again: true, kept: true, ..first.clone() };
    people.house.keeper.hear_person(again.clone());
    assert_eq!(people.count("sign-booked"), 1);
    people.house = people.house.restart(false, TimeDelta::minutes(10));
    people.house.keeper.broker_is_there(true);
    people.house.keeper.hear_person(again.clone());
    assert_eq!(people.count("sign-booked"), 1);
    // a broker that knows nothing of us numbers anew
    people.house.keeper.broker_is_there(false);
    people.house.keeper.hear_person(Heard { kept: false, ..again });
    assert_eq!(people.count("sign-booked"), 2);
}

#[test]
fn a_sign_from_while_nobody_listened_moves_nothing_and_it_is_asked_when_it_was() {
    let mut people = Ear::new(&["east-3"]);
    people.house.keeper.broker_is_there(false);
    people.house.keeper.broker_is_heard();
    people.sign("east-3", "spadix-visible");
    people.commit();
    let listened = people.house.keeper.now();
    people.house = people.house.restart(true, TimeDelta::hours(2));
    people.house.keeper.broker_is_there(true);
    let until = people.house.keeper.now();
    let topic = "anthesis/saltmarsh/east-3/sign";
    let kept = |heard: Heard| Heard { kept: true, ..heard };
    let undated = kept(people.next(topic, r#"{"sign":"opened"}"#));
    people.house.keeper.hear_person(undated);
    assert_eq!(people.count("opening-tonight"), 0, "it is not known when it was");
    let asked = people.house.payloads("sign-booked").pop().unwrap();
    let said = asked["message"].as_str().unwrap();
    assert!(said.starts_with("When was \"opened\" at east-3? It was sent between "), "{said}");
    assert!(said.contains(" Record it: anthesisd sign east-3 opened --at"), "{said}");
    assert_eq!(asked["sent_from"], json!(listened - MISSED_AFTER), "{asked}");
    assert_eq!(asked["sent_until"], json!(until), "{asked}");
    // one that carries its time is as good as any
    let dated = json!({ "sign": "opened", "time": listened + TimeDelta::hours(1) }).to_string();
    let dated = kept(people.next(topic, &dated));
    people.house.keeper.hear_person(dated);
    assert_eq!(people.count("opening-tonight"), 1);
}

#[test]
fn an_acknowledgement_from_while_nobody_listened_touches_nothing_raised_since() {
    let mut people = Ear::new(&["east-3", "east-4"]);
    people.house.keeper.broker_is_there(false);
    people.house.keeper.broker_is_heard();
    people.sign("east-3", "opened");
    people.commit();
    people.house = people.house.restart(false, TimeDelta::hours(1));
    people.sign("east-4", "opened");
    people.house.keeper.broker_is_there(true);
    let ids: Vec<String> =
        people.house.keeper.standing.by_need().iter().map(|alarm| alarm.event_id.clone()).collect();
    let openings: Vec<_> = ids.iter().filter(|id| id.contains("opening-tonight")).collect();
    assert_eq!(openings.len(), 2, "{ids:?}");
    for id in &openings {
        let heard = people.next(ACKNOWLEDGE, &json!({ "id": id, "by": "ann" }).to_string());
        people.house.keeper.hear_person(Heard { kept: true, ..heard });
    }
    let noted = |people: &Ear, bench: &str| {
        let by_need = people.house.keeper.standing.by_need();
        let of_bench = |alarm: &&&crate::store::Alarm| {
            alarm.bench.as_deref() == Some(bench) && alarm.kind == "opening-tonight"
        };
        by_need.iter().find(of_bench).unwrap().acknowledged.is_some()
    };
    assert!(noted(&people, "east-3"), "it stood when we were last heard");
    assert!(!noted(&people, "east-4"), "it may have been sent before");
    let heard = people.next(ACKNOWLEDGE, &json!({ "id": openings[0] }).to_string());
    people.house.keeper.hear_person(heard);
    let heard = people.next(ACKNOWLEDGE, &json!({ "id": openings[1] }).to_string());
    people.house.keeper.hear_person(heard);
    assert!(noted(&people, "east-4"), "now it is sent to one that listens");
}

/// A button that is stuck for a day.
#[test]
fn a_sign_that_acts_is_taken_however_many_were_booked_and_it_is_told_once_that_there_are_too_many() {
    let mut people = Ear::new(&["east-3"]);
    people.sign("east-3", "spadix-visible");
    for _ in 0..450 {
        people.sign("east-3", "scent");
        people.commit();
    }
    let stuck = |people: &Ear| {
        let told = people.house.told("sign-booked");
        told.iter().filter(|(_, message)| message.contains("Is a button stuck?")).count()
    };
    assert_eq!(stuck(&people), 1);
    people.sign("east-3", "opened");
    assert_eq!(people.count("opening-tonight"), 1);
    people.sign("east-3", "pollinated");
    assert_eq!(people.count("sign-booked"), 453);
    assert_eq!(stuck(&people), 1);
    let number = people.house.keeper.site.number_of("east-3").unwrap();
    let state = super::super::written_state(people.house.keeper.site.state_of(number).unwrap()).unwrap();
    assert!(state.len() < 64 * 1024, "the state stays small: {} bytes", state.len());
}
