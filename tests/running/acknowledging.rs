//! A phone that knows one word, a real broker, and a service that is killed: who took note of what, and what goes on.
#![expect(clippy::expect_used, clippy::unwrap_used, reason = "helpers of tests fail them as tests do")]

use std::thread;
use std::time::Duration;

use bench_sim::pty::Port;
use chrono::{TimeDelta, Utc};
use end_to_end::house::{House, said};
use end_to_end::mosquitto::{Listener, Mosquitto};
use end_to_end::service::{Service, Slowed, eventually};
use serde_json::{Value, json};

/// The time that a person needs at least to read an alarm, and a moment.
const READ: Duration = Duration::from_millis(10_500);
const EAST: &str = "anthesis/saltmarsh/east-3/acknowledge";

struct Night {
    broker: Mosquitto,
    house: House,
    _port: Port,
}

impl Night {
    fn begin() -> Self {
        let broker = Mosquitto::plain();
        let house = ["east-3", "west-1"].into_iter().fold(House::new(), House::with_bench);
        let house =
            house.with_serial("line").with("[alarm]\ntest_every_days = 0\n").with_broker(broker.port());
        let port = Port::open(&house.path("line")).unwrap();
        Self { broker, house, _port: port }
    }

    /// The bench opens, as somebody types it, and the broker has it.
    fn opens(&self, bench: &str) {
        let phone =
            self.broker.listen(&format!("sees-{bench}"), &format!("anthesis/saltmarsh/{bench}/event"));
        let output = self.house.run(&["sign", bench, "opened"]);
        assert!(output.status.success(), "{}", said(&output));
        phone.until(|heard| heard.payload.contains("opening-tonight"));
    }

    fn standing(&self, bench: &str, what: &str) -> bool {
        self.house.figure(&format!(
            "SELECT count(*) FROM alarm WHERE bench = '{bench}' AND kind = 'opening-tonight' AND {what}"
        )) == 1
    }

    fn answers(&self) -> Vec<String> {
        let events = self.house.stored_events();
        let events = events.iter().map(|event| serde_json::from_str::<Value>(event).unwrap());
        events
            .filter(|event| event["event"] == "acknowledged")
            .map(|event| event["message"].as_str().unwrap().to_owned())
            .collect()
    }
}

/// The next sentence on a phone's lock screen that begins so.
fn shown(phone: &Listener, begins: &str) -> String {
    phone.until(|heard| heard.payload.starts_with(begins)).pop().expect("it came").payload
}

#[test]
fn a_phone_says_ok_and_every_phone_reads_who_took_note_of_what() {
    let night = Night::begin();
    let service = Service::start(&night.house);
    night.broker.wait_for_log("Sending SUBACK to anthesisd-saltmarsh");
    let phone = night.broker.listen("phone", "anthesis/saltmarsh/say/notice");
    let program = night.broker.listen("program", "anthesis/saltmarsh/east-3/event");
    night.broker.publish(EAST, b"ok", false);
    assert_eq!(shown(&phone, "No alarm"), "No alarm stands at east-3: nothing to acknowledge.");
    night.opens("east-3");
    night.broker.publish(EAST, b"ok", false);
    shown(&phone, "NOT acknowledged at east-3: OPENING NOW, told a moment ago.");
    assert!(night.standing("east-3", "acknowledged_ms IS NULL AND next_repeat_ms IS NOT NULL"));
    thread::sleep(READ);
    night.broker.publish(EAST, b" Ok \n", false);
    let answer = shown(&phone, "Acknowledged at east-3 ");
    assert!(
        answer.contains(": OPENING NOW. Repeats stop. Nobody said who: the opening alarm comes back at ")
    );
    let event = program.until(|heard| heard.payload.contains("comes_back")).pop().unwrap();
    let event: Value = serde_json::from_str(&event.payload).unwrap();
    assert_eq!((&event["event"], &event["severity"]), (&json!("acknowledged"), &json!("notice")));
    // a name ends the question, and is answered
    let id = event["alarms"][0].as_str().unwrap();
    let named = json!({ "id": id, "by": "Robin" }).to_string();
    night.broker.publish(EAST, named.as_bytes(), false);
    shown(&phone, "Acknowledged at east-3 by Robin ");
    night.broker.publish(EAST, named.as_bytes(), false);
    night.broker.publish("anthesis/saltmarsh/acknowledge", b"OK", false);
    assert_eq!(shown(&phone, ""), "No alarm stands at saltmarsh: nothing to acknowledge.", "told once");
    assert!(night.standing("east-3", "acknowledged_by = 'Robin' AND next_repeat_ms IS NULL"));
    assert!(service.terminate().0.success());
}

/// The disk holds the commit up, the service is killed in it, and the broker hands the word over again.
#[test]
fn a_kill_between_the_word_and_its_answer_loses_neither_and_says_nothing_twice() {
    let night = Night::begin();
    let mut service = Service::start(&night.house);
    night.broker.wait_for_log("Sending SUBACK to anthesisd-saltmarsh");
    night.opens("east-3");
    thread::sleep(READ);
    // so that the broker's word that it has the alarm is in the record, with until when was listened
    let output = night.house.run(&["sign", "west-1", "scent"]);
    assert!(output.status.success(), "{}", said(&output));
    eventually("that is written down", || night.standing("east-3", "delivered_ms IS NOT NULL"));
    thread::sleep(READ);
    for (word, held_up) in [("ok", true), (r#"{"by":"Robin","coming":"TIME"}"#, false)] {
        let before = night.answers().len();
        let in_an_hour = (Utc::now() + TimeDelta::minutes(50)).with_timezone(&chrono_tz::America::Halifax);
        let word = word.replace("TIME", &in_an_hour.format("%H:%M").to_string());
        if held_up {
            let slowed = Slowed::at(&service, "fsync,fdatasync", Duration::from_secs(5));
            night.broker.publish(EAST, word.as_bytes(), false);
            thread::sleep(Duration::from_secs(1));
            service.kill();
            drop(slowed);
        } else {
            let held = night.house.hold_store();
            night.broker.publish(EAST, word.as_bytes(), false);
            thread::sleep(Duration::from_secs(1));
            service.kill();
            drop(held);
        }
        for _ in 0..2 {
            service = Service::start(&night.house);
            eventually("it is answered", || night.answers().len() > before);
            thread::sleep(Duration::from_secs(1));
            assert_eq!(night.answers().len(), before + 1, "{:?}", night.answers());
            service.kill();
        }
        service = Service::start(&night.house);
    }
    let answers = night.answers();
    assert!(answers[0].starts_with("Acknowledged at east-3 "), "{answers:?}");
    assert!(
        night.standing("east-3", "acknowledged_ms IS NOT NULL AND next_repeat_ms IS NOT NULL"),
        "{answers:?}"
    );
    assert!(
        answers[1].starts_with("Repeats at east-3 go on: OPENING NOW, perhaps told after"),
        "{answers:?}"
    );
    assert!(service.terminate().0.success());
}

#[test]
fn what_is_sent_while_the_service_is_away_silences_nothing_that_is_told_since() {
    let night = Night::begin();
    let service = Service::start(&night.house);
    night.broker.wait_for_log("Sending SUBACK to anthesisd-saltmarsh");
    night.opens("east-3");
    thread::sleep(READ);
    assert!(service.terminate().0.success());
    for bench in ["east-3", "west-1"] {
        night.broker.publish(&format!("anthesis/saltmarsh/{bench}/acknowledge"), b"ok", false);
    }
    // typed while nobody watches: it opens with the next start
    let output = night.house.run(&["sign", "west-1", "opened"]);
    assert!(output.status.success(), "{}", said(&output));
    let service = Service::start(&night.house);
    eventually("both are answered", || night.answers().len() == 2);
    assert!(night.standing("east-3", "acknowledged_ms IS NOT NULL"), "{:?}", night.answers());
    assert!(night.standing("west-1", "acknowledged_ms IS NULL"), "{:?}", night.answers());
    assert!(service.terminate().0.success());
}

#[test]
fn the_broker_that_is_away_makes_no_alarm_read_and_the_command_says_who_comes() {
    let mut night = Night::begin();
    let service = Service::start(&night.house);
    night.broker.wait_for_log("Sending SUBACK to anthesisd-saltmarsh");
    night.broker.stop();
    let output = night.house.run(&["sign", "east-3", "opened"]);
    assert!(output.status.success(), "{}", said(&output));
    eventually("it stands", || night.standing("east-3", "delivered_ms IS NULL"));
    thread::sleep(READ);
    night.broker.start();
    let phone = night.broker.listen("phone", "anthesis/saltmarsh/say/+");
    shown(&phone, "OPENING NOW east-3");
    night.broker.publish(EAST, b"ok", false);
    eventually("it is answered", || night.answers().len() == 1);
    assert!(night.standing("east-3", "acknowledged_ms IS NULL"), "{:?}", night.answers());

    let far = night.house.run(&["acknowledge", "--coming", &local(TimeDelta::minutes(-1))]);
    assert_eq!(far.status.code(), Some(2), "{}", said(&far));
    assert!(said(&far).contains("is too far ahead"), "{}", said(&far));
    thread::sleep(READ);
    let comes =
        night.house.run(&["acknowledge", "--coming", &local(TimeDelta::minutes(50)), "--by", "Robin"]);
    assert!(comes.status.success(), "{}", said(&comes));
    let announced = shown(&phone, "Robin comes to east-3 by ");
    assert!(announced.ends_with("; repeats wait until then."), "{announced}");
    assert!(night.standing("east-3", "acknowledged_ms IS NULL AND next_repeat_ms = coming_until_ms"));
    let output = night.house.run(&["sign", "west-1", "opened"]);
    assert!(output.status.success(), "{}", said(&output));
    eventually("both stand", || night.standing("west-1", "ended_ms IS NULL"));
    let which = night.house.run(&["acknowledge", "--coming", &local(TimeDelta::minutes(50))]);
    assert!(said(&which).contains("alarms of several places stand"), "{}", said(&which));
    assert!(service.terminate().0.success());
}

/// The local time of day so far ahead.
fn local(ahead: TimeDelta) -> String {
    (Utc::now() + ahead).with_timezone(&chrono_tz::America::Halifax).format("%H:%M").to_string()
}
