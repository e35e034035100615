//! The publisher against Debian's mosquitto: what it promises while the broker is killed, frozen, closed to us.
#![expect(clippy::unwrap_used, clippy::expect_used, reason = "helpers of tests fail them as tests do")]

mod access;
mod faults;
mod network;
mod words;

use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use anthesisd::config::MqttConfig;
use anthesisd::notify::topics::Topics;
use anthesisd::notify::{
    BrokerNews, Channels, Direct, Heard, Inbox, Outbox, Pace, Publisher, PublisherSpec, StateMessage, Taken,
};
use anthesisd::store::Outgoing;
use anthesisd::watchdog::Watch;
use end_to_end::mosquitto::{Mosquitto, PATIENCE};
use tokio::runtime::Runtime;
use tokio::sync::{mpsc, watch};
use tokio::task::JoinHandle;

const DOWN: &str = r#"{"service":"down","run":7}"#;
const UP: &str = r#"{"service":"up","run":7}"#;

fn topics() -> Topics {
    Topics::new("anthesis", "saltmarsh")
}

fn spec(broker: &Mosquitto) -> PublisherSpec {
    let config = MqttConfig {
        host: "127.0.0.1".to_owned(),
        port: broker.port(),
        tls: None,
        username: None,
        password_file: None,
        prefix: "anthesis".to_owned(),
        client_id: "anthesisd-saltmarsh".to_owned(),
    };
    PublisherSpec::new(&config, &topics(), DOWN.to_owned())
}

/// As the service's, but for shorter pauses, so that a check takes seconds.
fn brisk() -> Pace {
    Pace {
        first_retry: Duration::from_millis(20),
        longest_retry: Duration::from_millis(100),
        states: Duration::from_millis(50),
        ..Pace::default()
    }
}

/// An outbox in memory. Rows stay in it after delivery, as if their deletion were for ever under way.
#[derive(Clone, Default)]
struct Shelf(Arc<Mutex<BTreeMap<i64, Outgoing>>>);

impl Outbox for Shelf {
    fn oldest_after(&mut self, id: i64) -> Result<Option<Outgoing>, String> {
        Ok(self.0.lock().unwrap().range(id + 1..).next().map(|(_, row)| row.clone()))
    }
}

const BENCHES: [&str; 4] = ["east-1", "east-2", "east-3", "west-1"];

/// A row whose payload's length tells its number.
fn row(id: i64) -> Outgoing {
    let topic = topics().event(Some(BENCHES[id as usize % BENCHES.len()]));
    let payload = format!("{id:>width$}", width = 100 + id as usize);
    Outgoing { id, topic, payload, retain: false }
}

/// What the broker took of all but the marks that the service says to itself: topics and lengths.
fn received(broker: &Mosquitto) -> Vec<(String, usize)> {
    let mut received = broker.received();
    received.retain(|(topic, _)| *topic != topics().check());
    received
}

struct House {
    runtime: Runtime,
    shelf: Shelf,
    rows: watch::Sender<u64>,
    states: watch::Sender<Arc<Vec<StateMessage>>>,
    stop: watch::Sender<bool>,
    news: mpsc::Receiver<BrokerNews>,
    heard: mpsc::Receiver<Heard>,
    taken: Taken,
    task: JoinHandle<()>,
}

/// The publisher's way to a keeper, and the keeper's ends of it.
fn inbox() -> (Inbox, mpsc::Receiver<Heard>, Taken) {
    let (sender, heard) = mpsc::channel(64);
    let taken = Taken::default();
    (Inbox { heard: sender, taken: taken.clone() }, heard, taken)
}

impl House {
    fn new(spec: PublisherSpec, pace: Pace) -> Self {
        let runtime = Runtime::new().unwrap();
        let shelf = Shelf::default();
        let (rows, rows_seen) = watch::channel(0);
        let (states, states_seen) = watch::channel(Arc::default());
        let (stop, stop_seen) = watch::channel(false);
        let (sender, news) = mpsc::channel(64);
        let stage = Watch::new().stage("publisher");
        let direct = Direct::default();
        let (inbox, heard, taken) = inbox();
        let channels = Channels {
            rows: rows_seen,
            states: states_seen,
            direct,
            news: sender,
            inbox,
            stop: stop_seen,
            stage,
        };
        let task = runtime.spawn(Publisher::new(spec, pace, shelf.clone(), channels).run());
        Self { runtime, shelf, rows, states, stop, news, heard, taken, task }
    }

    fn add(&self, ids: impl IntoIterator<Item = i64>) {
        self.shelf.0.lock().unwrap().extend(ids.into_iter().map(|id| (id, row(id))));
        self.rows.send_modify(|count| *count += 1);
    }

    fn tell_states(&self, states: &[(String, &str, bool)]) {
        let state = |(topic, payload, qos1): &(String, &str, bool)| StateMessage {
            topic: topic.clone(),
            payload: (*payload).to_owned(),
            qos1: *qos1,
        };
        self.states.send_replace(Arc::new(states.iter().map(state).collect()));
    }

    fn next(&mut self) -> BrokerNews {
        loop {
            let hear = async { tokio::time::timeout(PATIENCE, self.news.recv()).await };
            let news = self.runtime.block_on(hear).expect("the publisher told nothing for long");
            match news.expect("the publisher has ended") {
                BrokerNews::Listening => {}
                news => return news,
            }
        }
    }

    fn until<T>(&mut self, wanted: impl Fn(BrokerNews) -> Option<T>) -> T {
        loop {
            if let Some(found) = wanted(self.next()) {
                return found;
            }
        }
    }

    fn connected(&mut self) {
        self.until(|news| matches!(news, BrokerNews::Connected { .. }).then_some(()));
    }

    fn disconnected(&mut self) -> String {
        self.until(|news| if let BrokerNews::Disconnected { why, .. } = news { Some(why) } else { None })
    }

    fn delivered(&mut self) -> i64 {
        self.until(|news| if let BrokerNews::Delivered(id) = news { Some(id) } else { None })
    }

    /// The next message of a person, which is not taken up yet.
    fn hear(&mut self) -> Heard {
        let hear = async { tokio::time::timeout(PATIENCE, self.heard.recv()).await };
        let heard = self.runtime.block_on(hear).expect("the publisher heard nothing for long");
        heard.expect("the publisher has ended")
    }

    /// The next message of a person, which is taken up.
    fn message(&mut self) -> (String, usize, bool) {
        let heard = self.hear();
        self.taken.say(&[heard.number]);
        (heard.topic, heard.payload.len(), heard.retained)
    }

    /// Tells the publisher to stop, and waits until it has.
    fn stop(mut self) {
        self.stop.send_replace(true);
        self.runtime
            .block_on(async { tokio::time::timeout(PATIENCE, &mut self.task).await })
            .unwrap()
            .unwrap();
    }
}

/// Each first arrival comes after that of every lower number, and no number is missing; gives the number of second copies.
fn in_order(arrived: &[i64], last: i64) -> usize {
    let mut seen = BTreeSet::new();
    for id in arrived {
        if seen.insert(*id) {
            assert_eq!(seen.last(), Some(id), "{id} came after a later one");
        }
    }
    let missing: Vec<_> = (1..=last).filter(|id| !seen.contains(id)).collect();
    assert!(missing.is_empty(), "rows never arrived: {missing:?}");
    arrived.len() - usize::try_from(last).unwrap()
}

#[test]
fn every_row_reaches_a_broker_that_is_killed_again_and_again() {
    const ROWS: i64 = 1200;
    const KILLS: i64 = 24;
    let mut broker = Mosquitto::plain();
    let mut house = House::new(spec(&broker), brisk());
    house.add(1..=ROWS);
    let mut delivered = Vec::new();
    for kill in 1..=KILLS {
        // the publisher goes on meanwhile: the blow falls wherever it is by then
        while (delivered.len() as i64) < kill * ROWS / (KILLS + 1) {
            delivered.push(house.delivered());
        }
        broker.kill();
        broker.start();
    }
    while delivered.last() != Some(&ROWS) {
        delivered.push(house.delivered());
    }
    assert_eq!(delivered, (1..=ROWS).collect::<Vec<_>>(), "each row is reported once, in order");
    let arrived: Vec<_> = received(&broker)
        .into_iter()
        .map(|(topic, bytes)| {
            let id = bytes as i64 - 100;
            assert_eq!(topic, row(id).topic);
            id
        })
        .collect();
    let copies = in_order(&arrived, ROWS);
    println!("{ROWS} rows over {KILLS} kills: none lost, {copies} came twice");
}

#[test]
fn every_row_reaches_a_listener_over_restarts() {
    const ROWS: i64 = 200;
    let mut broker = Mosquitto::plain();
    let listener = broker.listen("phone", "anthesis/saltmarsh/+/event");
    let mut house = House::new(spec(&broker), brisk());
    house.add(1..=ROWS);
    for restart in 1..=3 {
        while house.delivered() < restart * ROWS / 4 {}
        broker.stop();
        broker.start();
    }
    let last = row(ROWS);
    let heard = listener.until(|heard| heard.payload.trim() == last.payload.trim());
    for bench in BENCHES {
        let topic = topics().event(Some(bench));
        let ids = heard
            .iter()
            .filter(|heard| heard.topic == topic)
            .map(|heard| heard.payload.trim().parse().unwrap());
        let mut seen = BTreeSet::new();
        let order: Vec<_> = ids.filter(|id: &i64| seen.insert(*id)).collect();
        let own: Vec<_> = (1..=ROWS).filter(|id| row(*id).topic == topic).collect();
        assert_eq!(order, own, "{bench}");
    }
}

#[test]
fn a_round_trip_takes_moments() {
    let broker = Mosquitto::plain();
    let mut house = House::new(spec(&broker), Pace::default());
    house.connected();
    let mut trips: Vec<_> = (1..=200)
        .map(|id| {
            let start = Instant::now();
            house.add([id]);
            assert_eq!(house.delivered(), id);
            start.elapsed()
        })
        .collect();
    trips.sort();
    println!("row added to acknowledgement heard: median {:?}, longest {:?}", trips[100], trips[199]);
    let start = Instant::now();
    house.add(201..=1200);
    while house.delivered() < 1200 {}
    println!("1000 rows that waited: {:?}", start.elapsed());
}

#[test]
fn an_orderly_stop_sends_what_waits_and_then_says_goodbye() {
    let broker = Mosquitto::plain();
    let listener = broker.listen("watch", "anthesis/saltmarsh/#");
    let mut house = House::new(spec(&broker), brisk());
    house.tell_states(&[(topics().daemon(), UP, true)]);
    house.connected();
    assert_eq!(listener.next().payload, UP);
    // not told that they are there: the stop alone finds them
    house.shelf.0.lock().unwrap().extend((1..=20).map(|id| (id, row(id))));
    house.stop();
    let heard = listener.until(|heard| heard.topic == topics().daemon());
    let ids: Vec<_> = heard[..20].iter().map(|heard| heard.payload.trim().parse::<i64>().unwrap()).collect();
    assert_eq!(ids, (1..=20).collect::<Vec<_>>());
    assert_eq!(heard[20].payload, DOWN);
    broker.wait_for_log("Received DISCONNECT from anthesisd-saltmarsh");
    let (qos1_retained, down) = ("q1, r1", format!("'{}', ... ({} bytes)", topics().daemon(), DOWN.len()));
    let log = broker.log();
    let said: Vec<_> =
        log.lines().filter(|line| line.contains("Received PUBLISH from") && line.contains(&down)).collect();
    assert_eq!(said.len(), 1, "once, and no last will after it");
    assert!(said[0].contains(qos1_retained), "{}", said[0]);
}

#[test]
fn a_stop_without_a_broker_is_a_stop() {
    let mut broker = Mosquitto::plain();
    let mut house = House::new(spec(&broker), brisk());
    house.connected();
    broker.kill();
    assert!(house.disconnected().contains("closed the connection"));
    house.stop();
    // and one that is frozen is waited for no longer than the pace says
    broker.start();
    let pace = Pace { drain: Duration::ZERO, goodbye: Duration::from_millis(200), ..brisk() };
    let mut house = House::new(spec(&broker), pace);
    house.connected();
    broker.pause();
    house.stop();
}

#[test]
fn a_broker_that_acknowledges_nothing_is_left_and_found_again() {
    let broker = Mosquitto::plain();
    let pace = Pace { acknowledged: Duration::from_millis(500), ..brisk() };
    let mut house = House::new(spec(&broker), pace);
    house.connected();
    house.add([1]);
    assert_eq!(house.delivered(), 1);
    broker.pause();
    house.add(2..=9);
    assert!(house.disconnected().contains("acknowledged nothing"));
    broker.resume();
    let delivered: Vec<_> = (0..8).map(|_| house.delivered()).collect();
    assert_eq!(delivered, (2..=9).collect::<Vec<_>>());
}

#[test]
fn a_row_that_can_never_be_sent_holds_up_nothing() {
    let broker = Mosquitto::plain();
    let mut house = House::new(spec(&broker), brisk());
    let wild = Outgoing { topic: "anthesis/+/event".to_owned(), ..row(1) };
    let huge = Outgoing { payload: "x".repeat((1 << 20) + 1), ..row(2) };
    let large = Outgoing { payload: "x".repeat(1 << 20), ..row(3) };
    house.shelf.0.lock().unwrap().extend([(1, wild), (2, huge), (3, large)]);
    house.add([4]);
    assert_eq!((house.delivered(), house.delivered()), (3, 4));
    assert_eq!(broker.received()[0].1, 1 << 20);
}
