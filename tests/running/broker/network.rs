//! The network between: black-holed, slow, closed, answering nothing; and a publisher that hangs.

use std::sync::mpsc::{Receiver, sync_channel};
use std::time::Duration;

use anthesisd::notify::{BrokerNews, Channels, Direct, Outbox, Pace, Publisher, PublisherSpec};
use anthesisd::store::{Importance, Message, Outgoing};
use anthesisd::watchdog::Watch;
use end_to_end::mosquitto::Mosquitto;
use end_to_end::proxy::{Manner, Proxy};
use end_to_end::service::eventually;
use tokio::runtime::Runtime;
use tokio::sync::{mpsc, watch};

use super::{House, brisk, in_order, inbox, received, row, spec, topics};

fn through(proxy: &Proxy, broker: &Mosquitto) -> PublisherSpec {
    PublisherSpec { port: proxy.port(), ..spec(broker) }
}

/// Numbers of rows that the broker took, in the order in which it did.
fn arrived(broker: &Mosquitto) -> Vec<i64> {
    received(broker).into_iter().map(|(_, bytes)| bytes as i64 - 100).collect()
}

#[test]
fn every_row_arrives_in_order_whatever_the_network_does() {
    const EACH: i64 = 20;
    let broker = Mosquitto::plain();
    let proxy = Proxy::to(broker.port());
    let pace =
        Pace { acknowledged: Duration::from_millis(300), connect: Duration::from_millis(500), ..brisk() };
    let mut house = House::new(through(&proxy, &broker), pace);
    house.connected();
    let mut last = 0;
    let mut until_delivered = |house: &mut House, row| {
        while last < row {
            let delivered = house.delivered();
            assert_eq!(delivered, last + 1, "each row is reported once, in order");
            last = delivered;
        }
    };
    for (place, manner) in [Manner::Swallow, Manner::SwallowAnswers, Manner::Refuse].into_iter().enumerate() {
        let first = place as i64 * EACH + 1;
        proxy.behave(manner);
        house.add(first..first + EACH);
        // given up and tried again, as often as the network lasts
        house.disconnected();
        proxy.behave(Manner::Pass);
        until_delivered(&mut house, first + EACH - 1);
    }
    // cut in the middle, again and again
    let first = 3 * EACH + 1;
    house.add(first..first + EACH);
    for cut in 1..=5 {
        until_delivered(&mut house, first - 1 + cut * EACH / 6);
        proxy.cut();
    }
    until_delivered(&mut house, 4 * EACH);
    let copies = in_order(&arrived(&broker), 4 * EACH);
    assert!(copies >= 1, "what was not answered is sent again: a receiver drops it by its id");
}

#[test]
fn slow_acknowledgements_slow_down_and_lose_nothing() {
    let broker = Mosquitto::plain();
    let proxy = Proxy::to(broker.port());
    let mut house = House::new(through(&proxy, &broker), brisk());
    house.connected();
    proxy.behave(Manner::Late(50));
    house.add(1..=20);
    while house.delivered() < 20 {}
    assert_eq!(in_order(&arrived(&broker), 20), 0, "one under way at a time, and none twice");
}

/// An outbox that answers when it is let.
struct Gate(Receiver<()>);

impl Outbox for Gate {
    fn oldest_after(&mut self, id: i64) -> Result<Option<Outgoing>, String> {
        let _ = self.0.recv();
        Ok((id == 0).then(|| row(1)))
    }
}

/// An outbox on a disk that takes and does not give.
struct Unreadable;

impl Outbox for Unreadable {
    fn oldest_after(&mut self, _: i64) -> Result<Option<Outgoing>, String> {
        Err("disk I/O error".to_owned())
    }
}

#[test]
fn what_was_committed_goes_out_though_the_outbox_cannot_be_read() {
    let broker = Mosquitto::plain();
    let runtime = Runtime::new().unwrap();
    let phone = broker.listen("phone", "anthesis/saltmarsh/#");
    let (_rows, rows) = watch::channel(0);
    let (_states, states) = watch::channel(std::sync::Arc::default());
    let (_stop, stop) = watch::channel(false);
    let (news, mut heard) = mpsc::channel(64);
    let direct = Direct::default();
    let stage = Watch::new().stage("publisher");
    let (inbox, _people, _taken) = inbox();
    let channels = Channels { rows, states, direct: direct.clone(), news, inbox, stop, stage };
    let pace = Pace { look: Duration::from_millis(10), ..brisk() };
    runtime.spawn(Publisher::new(spec(&broker), pace, Unreadable, channels).run());
    let message = |payload: &str| Message {
        topic: topics().event(Some("east-3")),
        payload: payload.to_owned(),
        retain: false,
        importance: Importance::Alarm,
        displaces: None,
    };
    direct.committed(&[message("first"), message("second")], &[7, 8]);
    let payloads: Vec<_> =
        phone.until(|heard| heard.payload == "second").into_iter().map(|heard| heard.payload).collect();
    assert_eq!(payloads, ["first", "second"]);
    let mut delivered = Vec::new();
    while delivered != [7, 8] {
        let news = runtime.block_on(heard.recv()).unwrap();
        delivered.extend(if let BrokerNews::Delivered(row) = news { Some(row) } else { None });
    }
    assert_eq!(direct.oldest_after(0), None, "and is held no longer");
}

#[test]
fn a_publisher_that_hangs_is_noticed() {
    let broker = Mosquitto::plain();
    let runtime = Runtime::new().unwrap();
    let watched = Watch::with_interval(Duration::from_millis(300));
    let (let_on, gate) = sync_channel(0);
    let (_rows, rows) = watch::channel(0);
    let (_states, states) = watch::channel(std::sync::Arc::default());
    let (stop, stopping) = watch::channel(false);
    let (news, mut heard) = mpsc::channel(64);
    let stage = watched.stage("publisher");
    let (inbox, _people, _taken) = inbox();
    let direct = Direct::default();
    let channels = Channels { rows, states, direct, news, inbox, stop: stopping, stage };
    let pace = Pace { look: Duration::from_millis(10), ..brisk() };
    let task = runtime.spawn(Publisher::new(spec(&broker), pace, Gate(gate), channels).run());
    eventually("it is overdue", || watched.overdue(std::time::Instant::now()) == ["publisher"]);
    drop(let_on);
    eventually("it moves on", || {
        while heard.try_recv().is_ok() {}
        watched.overdue(std::time::Instant::now()).is_empty()
    });
    stop.send_replace(true);
    runtime.block_on(task).unwrap();
}
