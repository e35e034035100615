//! Every way in which the wire can break, one after the other: the n-th piece that crosses it is the last of its connection, once or
//! from then on until the wire is mended; for every n until a run passes untouched.
//!
//! The model of these faults: TCP may lose what was written and not acknowledged, and a connection may end or fall silent between any
//! two pieces, in either direction. Not modelled: a broker that acknowledges and forgets.

use std::time::Duration;

use anthesisd::notify::{BrokerNews, Pace, PublisherSpec};
use end_to_end::mosquitto::Mosquitto;
use end_to_end::proxy::{Manner, Proxy};

use super::{House, brisk, in_order, received, row, spec};

const ROWS: i64 = 4;
/// More pieces than any run needs; a loop that gets here does not end by itself.
const FAR_TOO_MANY: u64 = 400;

/// Runs a few rows over a wire that breaks at its `n`-th piece. Whether it broke.
fn breaks_at(broker: &Mosquitto, n: u64, silently: bool) -> bool {
    let before = received(broker).len();
    let proxy = Proxy::to(broker.port());
    proxy.break_at(n, silently);
    let pace =
        Pace { acknowledged: Duration::from_millis(200), connect: Duration::from_millis(200), ..brisk() };
    let mut house = House::new(PublisherSpec { port: proxy.port(), ..spec(broker) }, pace);
    house.add(1..=ROWS);
    let mut delivered = Vec::new();
    while delivered.last() != Some(&ROWS) {
        match house.next() {
            BrokerNews::Delivered(id) => delivered.push(id),
            // the publisher has given it up: now it is mended
            BrokerNews::Disconnected { .. } if silently && proxy.is_broken() => proxy.behave(Manner::Pass),
            _ => {}
        }
    }
    assert_eq!(delivered, (1..=ROWS).collect::<Vec<_>>(), "broken at piece {n}");
    let arrived = received(broker).split_off(before);
    let arrived: Vec<i64> = arrived
        .into_iter()
        .filter_map(|(topic, bytes)| {
            let id = bytes as i64 - 100;
            (topic == row(id).topic).then_some(id)
        })
        .collect();
    in_order(&arrived, ROWS);
    let broke = proxy.is_broken();
    proxy.behave(Manner::Pass);
    house.stop();
    broke
}

fn until_untouched(silently: bool) {
    let broker = Mosquitto::plain();
    let untouched = (1..FAR_TOO_MANY).find(|n| !breaks_at(&broker, *n, silently));
    let untouched = untouched.expect("a run that is not touched");
    println!("the wire was broken at each of {} pieces", untouched - 1);
    assert!(untouched > 10, "connecting, listening and {ROWS} rows take more pieces than {untouched}");
}

#[test]
fn a_wire_that_breaks_once_at_any_piece_loses_nothing() {
    until_untouched(false);
}

#[test]
fn a_wire_that_is_dead_from_any_piece_on_loses_nothing_when_it_is_mended() {
    until_untouched(true);
}
