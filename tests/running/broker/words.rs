//! What the service says of itself and its benches, and what it hears.

use std::time::{Duration, Instant};

use anthesisd::notify::{BrokerNews, PublisherSpec};
use end_to_end::mosquitto::{Mosquitto, PATIENCE};
use end_to_end::service::eventually;

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
    let (east, west, daemon) = (topics().now("east-3"), topics().now("west-1"), topics().daemon());
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

/// Waits until the newest message of that topic is acknowledged: one that is not is handed over again after a stop of the broker
/// (MQTT 3.1.1, section 4.4).
fn wait_for_the_answer(broker: &Mosquitto, topic: &str) {
    let answered = || {
        let log = broker.log();
        let lines: Vec<&str> = log.lines().collect();
        let is_ours =
            |line: &&str| line.contains("Sending PUBLISH to anthesisd-saltmarsh") && line.contains(topic);
        let sent = lines.iter().rposition(is_ours)?;
        let number = lines[sent].split(", m").nth(1)?.split(',').next()?;
        let answer = format!("Received PUBACK from anthesisd-saltmarsh (Mid: {number},");
        lines[sent..].iter().any(|line| line.contains(&answer)).then_some(())
    };
    eventually("what was heard is acknowledged", || answered().is_some());
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
        wait_for_the_answer(&broker, acknowledge);
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
    wait_for_the_answer(&broker, sign);
    broker.stop();
    broker.start();
    assert_eq!(house.message(), (sign.to_owned(), 64 * 1024, true), "kept by the broker");
}

#[test]
fn a_huge_message_is_refused_by_itself_retained_or_kept_for_us_or_not() {
    let mut broker = Mosquitto::plain();
    let sign = "anthesis/saltmarsh/east-3/sign";
    let huge = vec![b'x'; 5 << 20];
    broker.publish(sign, &huge, true);
    let mut house = House::new(spec(&broker), brisk());
    house.add(1..=50);
    while house.delivered() < 50 {}
    broker.publish(sign, &huge, false);
    broker.publish(sign, b"small", false);
    assert_eq!(house.message(), (sign.to_owned(), 5, false));
    house.stop();
    broker.publish(sign, &huge, false);
    broker.publish(sign, b"kept", false);
    let mut house = House::new(spec(&broker), brisk());
    assert_eq!(house.message(), (sign.to_owned(), 4, false));
    house.add([51]);
    assert_eq!(house.delivered(), 51);
    broker.stop();
    broker.start();
    house.connected();
    broker.publish(sign, b"later", false);
    assert_eq!(house.message(), (sign.to_owned(), 5, false), "the huge ones came no more, but the retained");
    let log = broker.log();
    let cut = log.lines().filter(|line| line.contains("anthesisd-saltmarsh") && line.contains("error"));
    assert_eq!(cut.count(), 0, "no connection was lost over it");
}

/// MQTT 3.1.1 (OASIS standard, 2014), section 3.1.2.4: with the session the broker keeps what is published at QoS 1 for a client that is
/// away; section 4.4: what was not acknowledged is handed over again.
#[test]
fn what_is_published_while_nobody_listens_is_heard_at_the_next_connection_and_once() {
    let mut broker = Mosquitto::plain();
    let sign = "anthesis/saltmarsh/east-3/sign";
    let mut house = House::new(spec(&broker), brisk());
    house.connected();
    broker.wait_for_log("Sending SUBACK to anthesisd-saltmarsh");
    broker.publish(sign, b"live", false);
    let heard = house.hear();
    assert_eq!((heard.payload.as_slice(), heard.kept, heard.again), (&b"live"[..], false, false));
    // it is heard, and nobody says that it is taken up: a daemon that is killed
    let (number, packet) = (heard.number, heard.packet);
    house.task.abort();
    drop(house);
    broker.publish(sign, b"away", false);
    broker.stop();
    broker.start();
    let mut house = House::new(spec(&broker), brisk());
    assert_eq!(house.next(), BrokerNews::Connected { resumed: true });
    let again = house.hear();
    assert_eq!((again.payload.as_slice(), again.kept, again.again), (&b"live"[..], true, true));
    assert_eq!(again.packet, packet, "by which it is known again");
    let away = house.hear();
    assert_eq!((away.payload.as_slice(), away.kept, away.again), (&b"away"[..], true, false));
    house.taken.say(&[away.number, again.number]);
    assert_eq!(number, again.number, "each run counts its own");
    assert!(matches!(house.runtime.block_on(house.news.recv()), Some(BrokerNews::Listening)));
    broker.publish(sign, b"since", false);
    let since = house.hear();
    assert_eq!((since.payload.as_slice(), since.kept), (&b"since"[..], false));
    house.taken.say(&[since.number]);
    // the farewell comes behind the answers
    house.stop();
    let mut house = House::new(spec(&broker), brisk());
    assert_eq!(house.next(), BrokerNews::Connected { resumed: true });
    broker.publish(sign, b"last", false);
    assert_eq!(house.hear().payload, b"last", "nothing comes twice");
}

#[test]
fn a_broker_that_lost_the_session_says_so_and_one_that_is_asked_for_none_keeps_none() {
    let mut broker = Mosquitto::plain();
    let mut house = House::new(spec(&broker), brisk());
    assert_eq!(house.next(), BrokerNews::Connected { resumed: false });
    broker.kill_and_forget();
    broker.start();
    house.disconnected();
    assert_eq!(house.next(), BrokerNews::Connected { resumed: false });
    house.stop();
    let passing = PublisherSpec { keep_session: false, client_id: "passing".to_owned(), ..spec(&broker) };
    for _ in 0..2 {
        let mut house = House::new(passing.clone(), brisk());
        assert_eq!(house.next(), BrokerNews::Connected { resumed: false });
        house.stop();
    }
}
