//! What the page says of a press: that it is in the record and the watch has it, or what of that is not so.

use std::net::SocketAddr;
use std::thread;
use std::time::Duration;

use bench_sim::pty::Port;
use end_to_end::house::House;
use end_to_end::manager::{Frozen, Manager};
use end_to_end::service::{Service, eventually};
use end_to_end::web::{Answer, ask, page_of};

use super::{get, house, noted_by, raise_alarm};

pub(super) fn press(at: SocketAddr, bench: &str, form: &str) -> Answer {
    ask(at, &format!("POST /bench/{bench}/sign"), &[], form)
}

/// Where the answer of a press leads.
fn leads_to(answer: &Answer) -> String {
    assert_eq!(answer.status, 303, "{answer:?}");
    let place = answer.head.split("\r\nlocation: ").nth(1).and_then(|rest| rest.lines().next());
    place.expect("a place").to_owned()
}

/// What is said of a press, as text.
fn receipt(page: &str) -> String {
    let section = page.split("id=\"receipt\"").nth(1).and_then(|rest| rest.split("</section>").next());
    let section = section.expect("a place for it").split_once('>').expect("a tag").1;
    let mut text = String::new();
    for piece in section.split('<') {
        text.push_str(piece.split_once('>').map_or(piece, |(_, after)| after));
    }
    text
}

fn ready(at: SocketAddr) {
    eventually("the keeper has told what the house is like", || get(at, "/").status == 200);
}

fn booked(house: &House, sign: &str) -> i64 {
    house.figure(&format!("SELECT count(*) FROM booked WHERE what = '{sign}'"))
}

#[test]
fn an_address_line_makes_no_press() {
    let house = house();
    let service = Service::start(&house);
    let at = page_of(&service);
    ready(at);
    for forged in [
        "booked=fruit-ripe",
        "withdrawn=opened",
        "receipt=1",
        "receipt=0000000000000001",
        "receipt=",
        "receipt=a&receipt=b&booked=opened",
        "receipt=%3Cscript%3Ealert(1)%3C/script%3E",
        "receipt=%ff%00&&==",
    ] {
        for page in ["/bench/east-3", "/"] {
            let Answer { status, body, .. } = get(at, &format!("{page}?{forged}"));
            assert_eq!(status, 200, "{page}?{forged}");
            assert_eq!(receipt(&body), "", "{page}?{forged}");
            assert!(
                !body.contains("Booked:") && !body.contains("Withdrawn:") && !body.contains("alert(1)"),
                "{body}"
            );
        }
    }
}

#[test]
fn the_tick_names_the_entry_and_is_told_of_its_own_bench() {
    let house = house();
    let service = Service::start(&house);
    let at = page_of(&service);
    ready(at);
    let answer = press(at, "east-3", "sign=spadix-visible");
    let place = leads_to(&answer);
    let said = || receipt(&get(at, &place).body);
    eventually("it is taken up", || said().contains('✓'));
    let said = said();
    assert!(
        said.starts_with("✓ Recorded: The spadix tip shows, east-3, ") && said.contains(", entry 1."),
        "{said}"
    );
    assert_eq!(booked(&house, "spadix-visible"), 1);
    // a finger that trembles: the same entry, and no other
    assert_eq!(leads_to(&press(at, "east-3", "sign=spadix-visible")), place);
    assert_eq!(booked(&house, "spadix-visible"), 1);
    let query = place.split_once('?').expect("a query").1;
    for elsewhere in [format!("/bench/east-4?{query}"), format!("/?{query}")] {
        assert_eq!(receipt(&get(at, &elsewhere).body), "", "{elsewhere}");
    }
    // the next one has a number of its own
    let place = leads_to(&press(at, "east-4", "sign=spadix-visible"));
    eventually("it is taken up", || receipt(&get(at, &place).body).contains("east-4"));
    let said = receipt(&get(at, &place).body);
    assert!(said.contains("entry 2."), "{said}");
}

#[test]
fn what_the_record_does_not_take_is_not_ticked_until_it_does_and_a_second_press_is_the_same() {
    let house = house();
    let service = Service::start(&house);
    let at = page_of(&service);
    ready(at);
    let held = house.hold_store();
    let place = leads_to(&press(at, "east-3", "sign=spadix-visible"));
    assert_eq!(leads_to(&press(at, "east-3", "sign=spadix-visible")), place);
    let said = receipt(&get(at, &place).body);
    assert!(said.starts_with("NOT recorded yet: The spadix tip shows, east-3, "), "{said}");
    // who only looks is not kept waiting, and nothing is ticked
    let page = get(at, "/bench/east-3");
    assert!(page.status == 200 && !page.body.contains("✓ Recorded"), "{page:?}");
    assert_eq!(booked(&house, "spadix-visible"), 0);
    drop(held);
    eventually("it is in the record", || {
        // an address that asks all the time is made to wait
        thread::sleep(Duration::from_millis(100));
        receipt(&get(at, &place).body).starts_with("✓ Recorded: The spadix tip shows, east-3, ")
    });
    assert_eq!(booked(&house, "spadix-visible"), 1);
}

/// The tick is the commit: a service that is killed at once has in its record what was ticked.
#[test]
fn what_was_ticked_is_in_the_record_of_a_service_that_is_killed_at_once() {
    let house = house();
    for round in 1..=5 {
        let service = Service::start(&house);
        let at = page_of(&service);
        ready(at);
        let sign = if round % 2 == 0 { "scent" } else { "spadix-visible" };
        let place = leads_to(&press(at, "east-3", &format!("sign={sign}")));
        let said = receipt(&get(at, &place).body);
        service.kill();
        assert!(said.contains('✓'), "{said}");
        assert_eq!(booked(&house, "scent") + booked(&house, "spadix-visible"), round);
    }
}

#[test]
fn what_a_watch_that_hangs_has_not_taken_up_is_not_ticked() {
    let house = house();
    let mut port = Port::open(&house.path("line")).unwrap();
    let manager = Manager::listen(&house);
    let service = manager.start(&house);
    let at = page_of(&service);
    ready(at);
    let alarm = raise_alarm(&house, &mut port, "east-4");
    eventually("the alarm is shown", || get(at, "/").body.contains(&alarm));
    let frozen = Frozen::threads(&service, "keeper");
    let place = leads_to(&press(at, "east-3", "sign=spadix-visible"));
    let said = receipt(&get(at, &place).body);
    assert!(said.starts_with("NOT recorded yet: The spadix tip shows, east-3, "), "{said}");
    let noted = leads_to(&ask(at, "POST /acknowledge", &[], &format!("id={alarm}&from=/")));
    let said = receipt(&get(at, &noted).body);
    assert!(said.starts_with("NOT recorded yet: the acknowledgement of opening tonight"), "{said}");
    assert!(!noted_by(&house, &alarm, ""));
    drop(frozen);
    eventually("both are taken up", || {
        receipt(&get(at, &place).body).contains('✓') && receipt(&get(at, &noted).body).contains('✓')
    });
    assert!(noted_by(&house, &alarm, ""));
}

#[test]
fn what_changed_nothing_is_not_ticked() {
    let house = house();
    let service = Service::start(&house);
    let at = page_of(&service);
    ready(at);
    let place = leads_to(&press(at, "east-3", "sign=opened&booked_ms=1000"));
    eventually("the watch has looked at it", || receipt(&get(at, &place).body).contains("did not take it"));
    let said = receipt(&get(at, &place).body);
    assert!(said.contains("Nothing of the kind is recorded for that time") && !said.contains('✓'), "{said}");
}
