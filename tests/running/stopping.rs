//! Told to stop, the daemon stops in order, whatever it is at.

use std::fs;
use std::os::unix::fs::PermissionsExt;
use std::thread;
use std::time::Duration;

use bench_sim::pty::Port;
use end_to_end::house::House;
use end_to_end::keyed_server::{BUCKET, KeyedServer};
use end_to_end::line::{saying, sign};
use end_to_end::manager::Manager;
use end_to_end::mosquitto::Mosquitto;
use end_to_end::proxy::{Manner, Proxy};
use end_to_end::service::{Service, eventually};
use rustix::process::Signal;

fn house(port: u16) -> House {
    House::new().with_bench("east-3").with_serial("line").with_broker(port)
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

#[test]
fn told_to_stop_while_it_waits_for_the_store_it_does_not_wait_to_the_end() {
    let broker = Mosquitto::plain();
    let house = house(broker.port());
    assert!(Service::start(&house).terminate().0.success());
    let other = house.hold_store();
    let service = Service::spawn(&house);
    // five seconds later it would give up, with a fault
    thread::sleep(Duration::from_secs(1));
    let (status, log) = service.terminate();
    assert!(status.success(), "{status}\n{log}");
    assert!(log.contains("stopping before the start is through"), "{log}");
    drop(other);
}

#[test]
fn told_to_stop_while_another_program_holds_the_store_it_writes_down_what_came_when_it_can() {
    let broker = Mosquitto::plain();
    let house = house(broker.port());
    let mut port = Port::open(&house.path("line")).unwrap();
    let service = Service::start(&house);
    service.wait_for_log("connected to the broker");
    let listener = broker.listen("phone", "anthesis/saltmarsh/east-3/event");
    let other = house.hold_store();
    // it is told though it cannot be written down
    saying(&mut port, &sign("east-3", "opened"), || {
        listener.until(|heard| heard.payload.contains("opening-tonight"));
    });
    service.send(Signal::TERM);
    service.wait_for_log("SIGTERM");
    thread::sleep(Duration::from_secs(1));
    drop(other);
    stops_in_order(&house, service, "while the store was held");
}

#[test]
fn told_to_stop_it_waits_for_no_database() {
    let server = KeyedServer::start();
    let proxy = Proxy::to(server.port());
    proxy.behave(Manner::Swallow);
    let house = house(1).with_readings_to(&format!("http://127.0.0.1:{}", proxy.port()), BUCKET);
    let mut port = Port::open(&house.path("line")).unwrap();
    let service = Service::start(&house);
    saying(&mut port, &sign("east-3", "opened"), || {
        eventually("it is sent to the database", || proxy.pieces() > 0);
    });
    stops_in_order(&house, service, "while the database hangs");
}
