//! An alarm's way through the whole daemon while the network is a black hole, the daemon is killed and the broker loses all it had.

use std::collections::BTreeSet;

use bench_sim::pty::Port;
use end_to_end::house::{House, said};
use end_to_end::line::{saying, sign};
use end_to_end::mosquitto::Mosquitto;
use end_to_end::proxy::{Manner, Proxy};
use end_to_end::service::{Service, eventually};
use serde_json::Value;

#[test]
fn every_event_arrives_in_the_order_of_its_bench_whatever_lies_between() {
    let mut broker = Mosquitto::plain();
    let proxy = Proxy::to(broker.port());
    let house = House::new()
        .with_bench("east-3")
        .with_bench("east-4")
        .with_serial("line")
        .with("[alarm]\ntest_every_days = 0\n")
        .with_broker(proxy.port());
    let listener = broker.listen("phone", "anthesis/saltmarsh/+/event");
    let mut port = Port::open(&house.path("line")).unwrap();
    let told = |bench: &str, kind: &str| {
        house.figure(&format!("SELECT count(*) FROM event WHERE bench = '{bench}' AND kind = '{kind}'"))
    };
    let book = |bench: &str, what: &str| {
        let output = house.run(&["sign", bench, what]);
        assert!(output.status.success(), "{}", said(&output));
    };
    let service = Service::start(&house);
    saying(&mut port, &sign("east-3", "opened"), || {
        eventually("the first is told", || told("east-3", "opening-tonight") == 1);
    });

    // a black hole: the connection stands, and nobody answers
    proxy.behave(Manner::Swallow);
    book("east-3", "not-opening");
    book("east-4", "opened");
    eventually("both are told", || {
        told("east-3", "stood-down") == 1 && told("east-4", "opening-tonight") == 1
    });
    service.wait_for_log("acknowledged nothing for 30 s");
    service.kill();

    // the next life finds the same hole, and meanwhile the broker loses its disk
    let service = Service::start(&house);
    book("east-4", "not-opening");
    book("east-3", "opened");
    eventually("both are told", || {
        told("east-4", "stood-down") == 1 && told("east-3", "opening-tonight") == 2
    });
    let subscribed = || broker.log().matches("Sending SUBACK to phone").count();
    let before = subscribed();
    broker.kill_and_forget();
    broker.start();
    eventually("the phone listens again", || {
        broker.log().matches("Sending SUBACK to phone").count() > before
    });
    proxy.behave(Manner::Pass);
    proxy.cut();

    let stored: Vec<Value> =
        house.stored_events().iter().map(|event| serde_json::from_str(event).unwrap()).collect();
    let wanted = |bench: &str| -> Vec<Value> {
        stored.iter().filter(|event| event["bench"] == bench).map(|event| event["id"].clone()).collect()
    };
    let (east_3, east_4) = (wanted("east-3"), wanted("east-4"));
    let mut seen: BTreeSet<String> = BTreeSet::new();
    let all = listener.until(|heard| {
        let event: Value = serde_json::from_str(&heard.payload).unwrap();
        seen.insert(event["id"].to_string());
        seen.len() == stored.len()
    });
    for (bench, wanted) in [("east-3", east_3), ("east-4", east_4)] {
        let mut first = Vec::new();
        for heard in &all {
            let event: Value = serde_json::from_str(&heard.payload).unwrap();
            // a second copy is dropped by its id
            if event["bench"] == bench && !first.contains(&event["id"]) {
                first.push(event["id"].clone());
            }
        }
        assert_eq!(first, wanted, "{bench}");
    }
    assert!(service.terminate().0.success());
}
