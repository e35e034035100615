//! What people say of alarms, as a keeper hears it by the broker, and what it answers.

use chrono::TimeDelta;
use serde_json::json;

use super::super::house::House;
use super::*;
use crate::notify::{BrokerNews, Heard};
use crate::store::Entry;

struct Phone {
    house: House,
    packet: u16,
}

impl Phone {
    fn new(benches: &[&'static str]) -> Self {
        let mut house = House::live(benches, 1);
        house.keeper.broker_is_there(false);
        house.keeper.broker_is_heard();
        Self { house, packet: 0 }
    }

    fn says(&mut self, place: &str, payload: &str) -> Heard {
        self.packet += 1;
        Heard {
            number: u64::from(self.packet),
            topic: format!("anthesis/saltmarsh/{place}"),
            payload: payload.as_bytes().to_vec(),
            retained: false,
            kept: false,
            again: false,
            packet: self.packet,
        }
    }

    /// Hears it, lets a moment pass, and commits.
    fn hear(&mut self, place: &str, payload: &str) {
        let heard = self.says(place, payload);
        self.take(heard);
    }

    fn take(&mut self, heard: Heard) {
        self.house.keeper.hear_person(heard);
        self.house.keeper.commit().unwrap();
    }

    fn sign(&mut self, bench: &str, sign: &str) {
        self.hear(&format!("{bench}/sign"), &json!({ "sign": sign }).to_string());
    }

    /// The bench opens, and the broker takes all that is to be said of it.
    fn opens(&mut self, bench: &str) {
        self.sign(bench, "opened");
        self.broker_takes_all();
    }

    fn broker_takes_all(&mut self) {
        let rows: Vec<i64> = self.house.keeper.under_way.keys().copied().collect();
        for row in rows {
            self.house.keeper.hear_broker(BrokerNews::Delivered(row));
        }
    }

    fn pass(&mut self, minutes: i64) {
        self.house.live_on(TimeDelta::minutes(minutes));
        self.house.keeper.commit().unwrap();
    }

    fn restart(self, in_order: bool) -> Self {
        let Self { house, packet } = self;
        let mut house = house.restart(in_order, TimeDelta::minutes(1));
        house.keeper.broker_is_there(true);
        Self { house, packet }
    }

    /// What the phones have been answered.
    fn answers(&self) -> Vec<String> {
        self.house.told("acknowledged").into_iter().map(|(_, message)| message).collect()
    }

    /// Repeats of that bench's opening alarm so far, and whether it is acknowledged.
    fn opening(&self, bench: &str) -> (u32, bool) {
        let rows = self.house.keeper.standing.alarms();
        let is_it = |row: &&Alarm| row.bench.as_deref() == Some(bench) && row.kind == "opening-tonight";
        let row = rows.iter().find(is_it).unwrap();
        (row.repeats, row.acknowledged.is_some())
    }
}

#[test]
fn ok_is_answered_and_stops_what_was_read() {
    let mut phone = Phone::new(&["east-3", "west-1"]);
    phone.opens("east-3");
    phone.hear("east-3/acknowledge", "ok");
    assert_eq!(phone.opening("east-3"), (0, false), "it came a moment ago");
    phone.pass(1);
    phone.hear("acknowledge", "ok");
    phone.hear("east-3/acknowledge", " OK\n");
    phone.hear("east-3/acknowledge", "ok");
    assert_eq!(phone.opening("east-3"), (0, true));
    assert_eq!(
        phone.answers(),
        [
            "NOT acknowledged at east-3: OPENING NOW, told a moment ago. Read it, then answer again.",
            "No alarm stands at saltmarsh: nothing to acknowledge. Alarms stand at east-3: answer there.",
            "Acknowledged at east-3 09:01: OPENING NOW. Repeats stop. Nobody said who: the opening alarm comes back at 09:31 unless a sign \
             is recorded.",
        ]
    );
    let [told, elsewhere, noted] = &phone.house.payloads("acknowledged")[..] else { panic!("three") };
    assert_eq!((&told["reason"], &told["alarms"]), (&json!("the alarm was told a moment ago"), &json!([])));
    assert_eq!((&told["bench"], elsewhere.get("bench")), (&json!("east-3"), None));
    assert_eq!(noted["alarms"][0].as_str().unwrap().split('/').nth(1), Some("opening-tonight"));
    assert_eq!((&noted["severity"], noted.get("reason")), (&json!("notice"), None));
    phone.hear("nowhere/acknowledge", "ok");
    assert_eq!(phone.answers().len(), 3, "there is no such bench to answer at");
    phone.pass(29);
    assert_eq!(phone.opening("east-3"), (0, true));
    phone.pass(1);
    assert_eq!(phone.opening("east-3"), (1, false));
}

#[test]
fn what_comes_back_does_so_after_a_restart_and_not_after_a_sign() {
    for in_order in [true, false] {
        for sign in [None, Some("scent"), Some("withdrawn opened")] {
            let mut phone = Phone::new(&["east-3", "west-1"]);
            phone.opens("east-3");
            phone.pass(1);
            phone.hear("east-3/acknowledge", "ok");
            phone.pass(1);
            phone.sign("west-1", "scent");
            if sign == Some("scent") {
                phone.sign("east-3", "scent");
            }
            let mut phone = phone.restart(in_order);
            phone.pass(28);
            let goes_on = sign != Some("scent");
            assert_eq!(phone.opening("east-3"), (u32::from(goes_on), !goes_on), "{in_order} {sign:?}");
        }
    }
}

/// The broker said before the kill that it has the alarm, and the keeper wrote that down, or it says so again.
#[test]
fn that_an_alarm_was_had_survives_a_kill() {
    let mut phone = Phone::new(&["east-3"]);
    phone.opens("east-3");
    phone.pass(1);
    let mut phone = phone.restart(false);
    phone.hear("east-3/acknowledge", "ok");
    assert!(phone.opening("east-3").1, "written down");

    let mut phone = Phone::new(&["east-3"]);
    phone.sign("east-3", "opened");
    let mut phone = phone.restart(false);
    phone.pass(1);
    phone.hear("east-3/acknowledge", "ok");
    assert!(!phone.opening("east-3").1, "nobody has it");
    phone.broker_takes_all();
    phone.pass(1);
    phone.hear("east-3/acknowledge", "ok");
    assert!(phone.opening("east-3").1, "what waited in the outbox went out");
}

/// MQTT 3.1.1 (OASIS standard, 2014), section 4.4: what was not acknowledged is handed over again.
#[test]
fn an_ok_that_comes_again_after_a_kill_is_answered_once() {
    let mut phone = Phone::new(&["east-3"]);
    phone.opens("east-3");
    phone.pass(1);
    let lost = phone.says("east-3/acknowledge", "ok");
    // killed before the commit: neither the acknowledgement nor its answer is there
    phone.house.keeper.hear_person(lost.clone());
    let mut phone = phone.restart(false);
    assert_eq!((phone.opening("east-3").1, phone.answers().len()), (false, 0));
    let again = Heard { again: true, kept: true, ..lost };
    phone.take(again.clone());
    assert_eq!((phone.opening("east-3").1, phone.answers().len()), (true, 1));
    // killed after the commit, before the broker heard of it
    let mut phone = phone.restart(false);
    phone.take(again);
    assert_eq!((phone.opening("east-3").1, phone.answers().len()), (true, 1));
}

#[test]
fn an_ok_from_while_nobody_listened_bears_on_nothing_that_was_told_since() {
    let mut phone = Phone::new(&["east-3", "west-1"]);
    phone.opens("east-3");
    phone.pass(10);
    let mut phone = phone.restart(true);
    phone.opens("west-1");
    phone.pass(10);
    for bench in ["east-3", "west-1"] {
        let heard = phone.says(&format!("{bench}/acknowledge"), "ok");
        phone.take(Heard { kept: true, ..heard });
    }
    assert_eq!((phone.opening("east-3").1, phone.opening("west-1").1), (true, false));
    let heard = phone.says("west-1/acknowledge", r#"{"by":"Robin","coming":"09:40"}"#);
    phone.take(Heard { kept: true, ..heard });
    assert_eq!(
        phone.answers()[1..],
        [
            "NOT acknowledged at west-1: OPENING NOW, perhaps told after that was sent. Read it, then answer again.",
            "Repeats at west-1 go on: OPENING NOW, perhaps told after that was sent. Read it, then answer again.",
        ]
    );
    let id = phone.house.told("opening-tonight")[1].0.clone();
    let heard = phone.says("acknowledge", &json!({ "id": id, "by": "Robin" }).to_string());
    phone.take(Heard { kept: true, ..heard });
    assert_eq!((phone.opening("west-1").1, phone.answers().len()), (false, 4));
    phone.hear("acknowledge", &json!({ "id": id, "by": "Robin" }).to_string());
    assert_eq!(phone.answers()[4], "Acknowledged at west-1 by Robin 09:21: OPENING NOW. Repeats stop.");
}

#[test]
fn whoever_comes_is_announced_and_waited_for_over_a_restart() {
    for in_order in [true, false] {
        let mut phone = Phone::new(&["east-3"]);
        phone.hear("east-3/acknowledge", r#"{"by":"Robin","coming":"09:30"}"#);
        phone.opens("east-3");
        phone.pass(1);
        phone.hear("east-3/acknowledge", r#"{"by":"Robin","coming":"11:02"}"#);
        phone.hear("east-3/acknowledge", r#"{"by":"Robin","coming":"09:30"}"#);
        phone.hear("east-3/acknowledge", r#"{"by":"Robin","coming":"09:30"}"#);
        assert_eq!(
            phone.answers(),
            [
                "No alarm stands at east-3: nothing waits.",
                "Repeats at east-3 go on: 11:02 is too far ahead, they wait until 11:01 at most. Say an earlier time, or acknowledge.",
                "Robin comes to east-3 by 09:30; repeats wait until then.",
            ]
        );
        let mut phone = phone.restart(in_order);
        phone.pass(27);
        assert_eq!(phone.opening("east-3"), (0, false));
        let mut there = phone.says("east-3/sign", r#"{"sign":"scent"}"#);
        phone.pass(1);
        assert_eq!(phone.opening("east-3"), (1, false), "nobody came");
        // once more, and they come
        phone.hear("east-3/acknowledge", r#"{"by":"Robin","coming":"10:00"}"#);
        phone.pass(10);
        there.payload = br#"{"sign":"flies"}"#.to_vec();
        phone.take(there);
        assert_eq!(phone.opening("east-3"), (1, true));
        assert_eq!(
            phone.answers()[4..],
            ["Acknowledged at east-3 by Robin 09:40: OPENING NOW. Repeats stop."]
        );
        phone.pass(60);
        assert_eq!(phone.opening("east-3"), (1, true));
    }
}

/// A button that is stuck for a day, with the word of somebody who comes and without.
#[test]
fn a_button_that_is_stuck_floods_no_phone_and_hides_no_alarm() {
    let mut phone = Phone::new(&["east-3", "west-1"]);
    let answered = |phone: &mut Phone, minutes: i64, said: &dyn Fn(i64) -> String| {
        let before = phone.answers().len();
        for minute in 0..minutes {
            phone.hear("east-3/acknowledge", &said(minute));
            phone.pass(1);
        }
        phone.answers()[before..].to_vec()
    };
    let oks = answered(&mut phone, 120, &|_| "ok".to_owned());
    assert_eq!(oks.len(), 12, "{oks:?}");
    assert_eq!(oks.iter().filter(|answer| answer.contains("Is a button stuck?")).count(), 2);
    phone.opens("east-3");
    phone.hear("west-1/acknowledge", "ok");
    assert_eq!(phone.answers().len(), 13, "the bound is of one bench");
    // each says another time: no more is believed than is told
    let comes = answered(&mut phone, 130, &|minute| {
        json!({ "coming": format!("{:02}:{:02}", 11 + minute / 60 + 1, minute % 60) }).to_string()
    });
    assert!(comes.len() <= 18, "{comes:?}");
    assert!(phone.opening("east-3").0 > 0, "it was told again after two hours at most");
    // what is acknowledged is always answered
    let id = phone.house.told("opening-tonight")[0].0.clone();
    let before = phone.answers().len();
    phone.hear("east-3/acknowledge", &json!({ "id": id, "by": "Robin" }).to_string());
    assert_eq!(phone.answers().len(), before + 1);
}

#[test]
fn commands_acknowledge_what_they_saw_and_each_place_is_answered() {
    let mut phone = Phone::new(&["east-3", "west-1"]);
    phone.opens("east-3");
    phone.opens("west-1");
    let seen: Vec<String> = phone.house.told("opening-tonight").into_iter().map(|(id, _)| id).collect();
    phone.pass(1);
    phone.sign("east-3", "not-opening");
    phone.opens("east-3");
    let entry = Entry::Acknowledge { ids: Some(seen), by: Some("Robin".to_owned()) };
    entry.put(&phone.house.path()).unwrap();
    phone.house.keeper.take_entries();
    phone.house.keeper.commit().unwrap();
    assert_eq!(
        (phone.opening("east-3").1, phone.opening("west-1").1),
        (false, true),
        "that one was not seen"
    );
    assert_eq!(phone.answers(), ["Acknowledged at west-1 by Robin 09:01: OPENING NOW. Repeats stop."]);
    let until = phone.house.keeper.now() + TimeDelta::minutes(29);
    Entry::Coming { bench: Some("east-3".to_owned()), seen: Vec::new(), until, by: None }
        .put(&phone.house.path())
        .unwrap();
    phone.pass(1);
    phone.house.keeper.take_entries();
    phone.house.keeper.commit().unwrap();
    assert_eq!(phone.answers()[1], "Somebody comes to east-3 by 09:30; repeats wait until then.");
}
