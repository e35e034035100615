//! A daemon that hangs in any of its stages gives no sign of life, and is killed and started anew for it.

use std::any::Any;
use std::time::Duration;

use bench_sim::pty::Port;
use end_to_end::house::House;
use end_to_end::line::{saying, sign};
use end_to_end::manager::{Frozen, INTERVAL, Manager};
use end_to_end::mosquitto::Mosquitto;
use end_to_end::proxy::{Manner, Proxy};
use end_to_end::service::{Service, Slowed, eventually};

fn house(port: u16) -> House {
    House::new().with_bench("east-3").with_serial("line").with_broker(port)
}

/// What holds one stage of the running service where it is. It lets go with the value.
type Hold = fn(&Service) -> Box<dyn Any>;

/// The thread of the model, those of intakes, publisher and alarm command, and the one that gives the signs: the kernel holds them, they do
/// not know. The store: its disk takes a write and never says that it is there.
const STAGES: [(&str, Option<&str>, Hold); 4] = [
    ("model", Some("keeper"), |service| Box::new(Frozen::threads(service, "keeper"))),
    ("publisher", Some("publisher"), |service| Box::new(Frozen::threads(service, "tokio"))),
    ("store", Some("keeper, store"), |service| {
        Box::new(Slowed::at(service, "fsync,fdatasync", Duration::from_secs(600)))
    }),
    ("watchdog", None, |service| Box::new(Frozen::threads(service, "watchdog"))),
];

#[test]
fn whatever_stage_hangs_the_daemon_is_started_anew_and_misses_no_alarm() {
    let broker = Mosquitto::plain();
    for (stage, named, hold) in STAGES {
        let house = house(broker.port());
        let mut port = Port::open(&house.path("line")).unwrap();
        let manager = Manager::listen(&house);
        let service = manager.start(&house);
        assert!(manager.sees_life(), "with a line on which nobody speaks, it is idle by design");
        let held = hold(&service);
        if stage == "store" {
            // something to write down
            let _ = port.send(sign("east-3", "opened").as_bytes(), Duration::from_secs(1));
        }
        if let Some(named) = named {
            service.wait_for_log(&format!("has not moved on in time: {named}"));
        }
        let service = manager.kills_and_starts_anew(&house, service, held);
        assert!(manager.sees_life(), "{stage} moves on again:\n{}", service.log());
        let opened = "SELECT count(*) FROM event WHERE kind = 'opening-tonight'";
        saying(&mut port, &sign("east-3", "opened"), || {
            eventually("it is told", || house.figure(opened) == 1)
        });
        assert!(service.terminate().0.success(), "{stage}");
        manager.hear("STOPPING=1", INTERVAL).expect("a stop is said");
    }
}

#[test]
fn a_broker_that_swallows_everything_and_a_port_that_is_missing_are_no_hanging() {
    let broker = Mosquitto::plain();
    let proxy = Proxy::to(broker.port());
    proxy.behave(Manner::Swallow);
    let house = house(proxy.port());
    let manager = Manager::listen(&house);
    let service = manager.start(&house);
    for _ in 0..4 {
        assert!(manager.sees_life(), "{}", service.log());
    }
    assert!(service.terminate().0.success());
}
