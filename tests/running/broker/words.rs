//! What the service says of itself and its benches, and what it hears.

use std::time::{Duration, Instant};

use end_to_end::mosquitto::{Mosquitto, PATIENCE};

use super::{DOWN, House, UP, brisk, spec, topics};

#[test]
fn the_last_will_speaks_for_a_service_that_is_gone() {
    let broker = Mosquitto::plain();
    let listener = broker.listen("watch", &topics().daemon());
    let house = House::new(spec(&broker), brisk());
    house.tell_states(&[(topics().daemon(), UP, true)]);
    assert_eq!(listener.next().payload, UP);
    house.task.abort();
    assert_eq!(listener.next().payload, DOWN);
    assert!(!broker.log().contains("Received DISCONNECT from anthesisd"), "it did not leave in order");
    let late = broker.listen("late", &topics().daemon()).next();
    assert_eq!((late.payload.as_str(), late.retained), (DOWN, true));
}

#[test]
fn states_are_told_on_change_and_all_of_them_to_a_new_broker() {
    let mut broker = Mosquitto::plain();
    let house = House::new(spec(&broker), brisk());
    let (east, west, daemon) = (topics().state("east-3"), topics().state("west-1"), topics().daemon());
    let told = |broker: &Mosquitto| {
        broker.received().into_iter().map(|(topic, bytes)| format!("{topic} {bytes}")).collect::<Vec<_>>()
    };
    let until = |broker: &Mosquitto, count: usize| {
        let deadline = Instant::now() + PATIENCE;
        while told(broker).len() < count && Instant::now() < deadline {
            std::thread::sleep(Duration::from_millis(5));
        }
        told(broker)
    };
    house.tell_states(&[(east.clone(), "1", false), (west.clone(), "22", false), (daemon.clone(), UP, true)]);
    let first = [format!("{daemon} {}", UP.len()), format!("{east} 1"), format!("{west} 2")];
    assert_eq!(until(&broker, 3), first);
    house.tell_states(&[
        (east.clone(), "1", false),
        (west.clone(), "333", false),
        (daemon.clone(), UP, true),
    ]);
    assert_eq!(until(&broker, 4)[3..], [format!("{west} 3")]);
    broker.kill();
    broker.start();
    let after = until(&broker, 7);
    assert_eq!(after[4..], [first[0].clone(), format!("{east} 1"), format!("{west} 3")]);
    let late = broker.listen("late", &west).next();
    assert_eq!((late.payload.as_str(), late.retained), ("333", true));
}

#[test]
fn what_people_publish_is_heard_after_every_connection() {
    let mut broker = Mosquitto::plain();
    let mut house = House::new(spec(&broker), brisk());
    let acknowledge = "anthesis/saltmarsh/east-3/acknowledge";
    for _ in 0..3 {
        broker.wait_for_log("Sending SUBACK to anthesisd-saltmarsh");
        broker.publish(acknowledge, b"{}", false);
        assert_eq!(house.message(), (acknowledge.to_owned(), 2, false));
        let subscribed = broker.log().matches("Sending SUBACK to anthesisd-saltmarsh").count();
        broker.stop();
        broker.start();
        while broker.log().matches("Sending SUBACK to anthesisd-saltmarsh").count() == subscribed {
            std::thread::sleep(Duration::from_millis(5));
        }
    }
    let sign = "anthesis/saltmarsh/east-3/sign";
    broker.publish(sign, &[b'x'; 64 * 1024 + 1], false);
    broker.publish(sign, &[b'x'; 64 * 1024], true);
    assert_eq!(house.message(), (sign.to_owned(), 64 * 1024, false), "one byte more is dropped");
    broker.stop();
    broker.start();
    assert_eq!(house.message(), (sign.to_owned(), 64 * 1024, true), "kept by the broker");
}

#[test]
fn a_huge_retained_message_does_not_stop_what_goes_out() {
    let broker = Mosquitto::plain();
    broker.publish("anthesis/saltmarsh/east-3/sign", &vec![b'x'; 2 << 20], true);
    let mut house = House::new(spec(&broker), brisk());
    assert!(house.disconnected().contains("a message of more than 1024 KiB came"));
    house.add(1..=50);
    while house.delivered() < 50 {}
    assert_eq!(broker.log().matches("Received SUBSCRIBE from anthesisd-saltmarsh").count(), 1);
}
