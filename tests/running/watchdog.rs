//! A daemon that hangs in any of its stages gives no sign of life, and one that is told to stop stops in any of them.

use std::fs;
use std::os::unix::fs::PermissionsExt;

use bench_sim::pty::Port;
use end_to_end::house::House;
use end_to_end::line::{saying, sign};
use end_to_end::manager::{Frozen, INTERVAL, Manager};
use end_to_end::mosquitto::Mosquitto;
use end_to_end::proxy::{Manner, Proxy};
use end_to_end::service::{Service, eventually};

fn house(port: u16) -> House {
    House::new().with_bench("east-3").with_serial("line").with_broker(port)
}

#[test]
fn a_sign_of_life_is_given_only_while_every_stage_moves_on() {
    let broker = Mosquitto::plain();
    let house = house(broker.port());
    let _port = Port::open(&house.path("line")).unwrap();
    let manager = Manager::listen(&house);
    let service = manager.start(&house);
    assert!(manager.sees_life(), "with a line on which nobody speaks, it is idle by design");
    // the thread of store and model, and those of links and publisher: the kernel holds them, they do not know
    for (threads, stuck) in [("keeper", "keeper"), ("tokio", "publisher")] {
        let frozen = Frozen::threads(&service, threads);
        service.wait_for_log(&format!("has not moved on in time: {stuck}"));
        assert!(!manager.sees_life(), "{threads} is frozen");
        drop(frozen);
        manager.hear("WATCHDOG=1", INTERVAL * 20).expect("it lives again");
    }
    // and the watchdog itself
    let frozen = Frozen::threads(&service, "watchdog");
    assert!(!manager.sees_life());
    drop(frozen);
    manager.hear("WATCHDOG=1", INTERVAL * 20).expect("it lives again");
    assert!(service.terminate().0.success());
    manager.hear("STOPPING=1", INTERVAL).expect("a stop is said");
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

/// Stops the service, sees that it did so in order, and that what a person booked before is in the store.
fn stops_in_order(house: &House, service: Service, what: &str) {
    let (status, log) = service.terminate();
    assert!(status.success(), "{what}: {status}\n{log}");
    assert!(log.contains("the record is written to its last reading"), "{what}:\n{log}");
    let booked = "SELECT count(*) FROM booked";
    assert_eq!(house.figure(booked), 1, "{what}");
    assert_eq!(house.figure("SELECT count(*) FROM entry"), 0, "{what}");
}

#[test]
fn told_to_stop_it_stops_in_order_whatever_it_is_at() {
    let broker = Mosquitto::plain();
    let proxy = Proxy::to(broker.port());
    for manner in [Manner::Pass, Manner::Swallow, Manner::Refuse] {
        proxy.behave(manner);
        let house = house(proxy.port());
        let mut port = Port::open(&house.path("line")).unwrap();
        let service = Service::start(&house);
        let seen = "SELECT count(*) FROM event WHERE kind = 'opening-tonight'";
        saying(&mut port, &sign("east-3", "opened"), || eventually("it is told", || house.figure(seen) == 1));
        // rows wait in the outbox where the broker takes none
        stops_in_order(&house, service, &format!("{manner:?}"));
    }
}

#[test]
fn told_to_stop_it_waits_for_no_alarm_command() {
    let house = House::new().with_bench("east-3").with_serial("line");
    let program = house.path("siren");
    fs::write(&program, "#!/bin/sh\ntouch \"$0.rings\"\nexec sleep 1000\n").unwrap();
    fs::set_permissions(&program, fs::Permissions::from_mode(0o755)).unwrap();
    let house = house.with(&format!("[alarm]\ncommand = [\"{}\"]\n", program.display()));
    let mut port = Port::open(&house.path("line")).unwrap();
    let service = Service::start(&house);
    saying(&mut port, &sign("east-3", "opened"), || {
        eventually("the siren rings", || house.path("siren.rings").exists());
    });
    stops_in_order(&house, service, "while the siren rings");
}

#[test]
fn told_to_stop_while_it_starts_it_stops_in_order() {
    for _ in 0..5 {
        let house = house(1);
        let manager = Manager::listen(&house);
        let service = manager.spawn(&house);
        service.wait_for_log("starting");
        let (status, log) = service.terminate();
        assert!(status.success(), "{status}\n{log}");
    }
}
