//! `alarm-test`: the ways to people, tried when a person wants to know.

use std::fs;

use end_to_end::house::{House, said};
use end_to_end::mosquitto::Mosquitto;
use serde_json::Value;

#[test]
fn each_way_says_whether_the_test_was_delivered_and_no_alarm_stands_for_it() {
    let broker = Mosquitto::plain();
    let house = House::new().with_bench("east-3");
    let heard = house.path("heard");
    let command = format!("[alarm]\ncommand = [\"/usr/bin/tee\", \"{}\"]\n", heard.display());
    let house = house.with(&command).with_broker(broker.port());
    let phone = broker.listen("phone", "anthesis/saltmarsh/#");
    let output = house.run(&["alarm-test"]);
    assert!(output.status.success(), "{}", said(&output));
    let told = said(&output);
    assert!(
        told.contains("acknowledged the test on anthesis/saltmarsh/event and anthesis/saltmarsh/say/alarm"),
        "{told}"
    );
    assert!(told.contains("alarm command /usr/bin/tee: ended with exit status 0"), "{told}");

    let messages = phone.until(|heard| heard.topic == "anthesis/saltmarsh/say/alarm");
    let say = &messages[messages.len() - 1];
    assert!(
        say.payload.starts_with("TEST ALARM saltmarsh: ") && say.payload.contains("Nothing is wrong"),
        "{}",
        say.payload
    );
    let event: Value =
        serde_json::from_str(&fs::read_to_string(&heard).expect("it was run")).expect("an event");
    assert_eq!(
        (&event["event"], &event["severity"], &event["message"]),
        (&"test".into(), &"alarm".into(), &say.payload.as_str().into())
    );
    assert!(messages.iter().any(|heard| heard.topic == "anthesis/saltmarsh/event"), "{messages:?}");
    assert!(
        !messages.iter().any(|heard| heard.topic.ends_with("/alarm") && !heard.topic.contains("/say/")),
        "no list of alarms is touched"
    );
    assert!(!house.path("anthesisd.db").exists(), "nothing is recorded");
}

#[test]
fn a_way_that_does_not_deliver_is_named_with_what_is_wrong() {
    let mut broker = Mosquitto::plain();
    let house = House::new()
        .with_bench("east-3")
        .with("[alarm]\ncommand = [\"/bin/false\"]\n")
        .with_broker(broker.port());
    broker.kill();
    let output = house.run(&["alarm-test"]);
    let told = said(&output);
    assert_eq!(output.status.code(), Some(1), "{told}");
    assert!(
        told.contains("cannot be reached")
            && told.contains("alarm command /bin/false: NOT DELIVERED: failed (exit status: 1)"),
        "{told}"
    );
    assert!(told.contains("2 ways do not deliver"), "{told}");
    let nobody = House::new().with_bench("east-3").run(&["alarm-test"]);
    assert_eq!(nobody.status.code(), Some(1), "{}", said(&nobody));
    assert!(said(&nobody).contains("alarms reach nobody"), "{}", said(&nobody));
}
