//! What the page says at a glance of a house that is not read, and the cautions that are on it whatever the stage.

use std::net::SocketAddr;
use std::time::Duration;

use bench_sim::pty::Port;
use chrono::Utc;
use end_to_end::bud::Recorder;
use end_to_end::house::said;
use end_to_end::line::saying;
use end_to_end::service::{Service, eventually};
use end_to_end::web::page_of;

use super::{get, house};

/// The headline of the first page; who asks without a pause is held up as anybody is.
fn first_headline(at: SocketAddr) -> String {
    std::thread::sleep(Duration::from_millis(200));
    headline(&get(at, "/").body)
}

/// The headline of a page.
fn headline(page: &str) -> String {
    let rest = page.split("<h1>").nth(1).and_then(|rest| rest.split("</h1>").next());
    rest.unwrap_or_default().to_owned()
}

#[test]
fn a_house_that_is_not_read_never_says_that_all_is_well() {
    let house = house();
    let mut port = Port::open(&house.path("line")).unwrap();
    let service = Service::start(&house);
    let at = page_of(&service);
    eventually("the keeper has told what the house is like", || {
        !first_headline(at).is_empty() && get(at, "/watch/serving").status == 200
    });
    // it has just started, and has heard nothing
    let page = get(at, "/").body;
    assert_eq!(headline(&page), "None of 2 benches is read.");
    assert!(
        page.contains("0 of 2 benches are read.") && page.contains("<title>▲ saltmarsh</title>"),
        "{page}"
    );
    assert!(!page.contains("No alarm stands") && !page.contains("Nothing needs"), "{page}");
    let bench = get(at, "/bench/east-4").body;
    assert!(bench.contains("east-4 is not read: what this page shows is old."), "{bench}");

    let pack = |bench: &str| {
        let mut recorder = Recorder::new(bench);
        recorder.pack(Utc::now().timestamp(), Some(1.5), Some(0.0), 0.002);
        recorder.text
    };
    let says = |port: &mut Port, bench: &str, wanted: &str| {
        saying(port, &pack(bench), || eventually(wanted, || first_headline(at) == wanted));
    };
    says(&mut port, "east-3", "east-4 is not read.");
    says(&mut port, "east-4", "No alarm stands.");
    let page = get(at, "/").body;
    assert!(page.contains("2 benches are read.") && page.contains("<title>saltmarsh</title>"), "{page}");
    // a line that goes is said at once, though every bench was read a moment ago
    drop(port);
    eventually("the line is out", || first_headline(at).starts_with("Nothing comes by "));
}

#[test]
fn cautions_are_shown_whatever_the_stage() {
    let house = house();
    let service = Service::start(&house);
    let at = page_of(&service);
    eventually("the keeper has told what the house is like", || get(at, "/").status == 200);
    let bench = get(at, "/bench/east-3").body;
    assert!(
        bench.contains("href=\"/tonight#care\"") && bench.contains("Take care: sap, ladder, heat, wet mains"),
        "{bench}"
    );
    // no bench is open or in bud: fruit has its sap, and a ladder is one in every month
    let page = get(at, "/tonight").body;
    let sheet = house.run(&["tonight"]);
    let sheet = String::from_utf8_lossy(&sheet.stdout).into_owned();
    assert!(page.contains("No bench is open or in bud.") && page.contains("id=\"care\""), "{page}");
    assert!(sheet.contains("no bloom on any bench is open or in bud"), "{sheet}");
    for hazard in [
        "see a doctor",
        "Ladder: ",
        "cut away from the hand",
        "Heat: ",
        "residual-current",
        "no open flame",
        "-80 °C",
        "liquid nitrogen",
        "Carbon dioxide: ",
        "re-entry interval",
        "Weight: ",
        "not alone",
        "Local codes come first",
    ] {
        assert!(page.contains(hazard), "{hazard} on the page: {page}");
        assert!(sheet.contains(hazard), "{hazard} on the sheet: {sheet}");
    }
    // named from memory, so not cited to a person on a ladder
    for cited in ["INDG455", "ISO 7243", "2016-106", "60364"] {
        assert!(!page.contains(cited) && !sheet.contains(cited), "{cited}");
    }
    let one = house.run(&["tonight", "east-3"]);
    assert!(one.status.success() && said(&one).contains("Take care:"), "{}", said(&one));
}
