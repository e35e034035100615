//! How long the page of forty benches takes, printed and never judged. On a quiet machine, as for the other figures:
//!
//!     cargo nextest run --release --package end-to-end --run-ignored only figures --no-capture

use std::time::Instant;

use bench_sim::pty::Port;
use chrono::Utc;
use end_to_end::browser::{Driver, Window};
use end_to_end::bud::Recorder;
use end_to_end::house::House;
use end_to_end::line::{say, sign};
use end_to_end::service::{Service, eventually};
use end_to_end::web::page_of;

use super::get;
use super::presses::press;

const BENCHES: usize = 40;
const LOADS: usize = 20;

#[test]
#[ignore = "figures, not a check"]
fn figures_of_forty_benches_on_the_page() {
    let mut house = House::new().with_serial("line").with("[page]\nlisten = \"127.0.0.1:0\"\n");
    for number in 1..=BENCHES {
        house = house.with_bench(&format!("bench-{number}"));
    }
    let mut port = Port::open(&house.path("line")).expect("a pseudo-terminal");
    let service = Service::start(&house);
    let at = page_of(&service);
    let now = Utc::now().timestamp();
    for number in 1..=BENCHES {
        let mut recorder = Recorder::new(&format!("bench-{number}"));
        for minute in -180..=0 {
            recorder.pack(now + minute * 60, Some(1.5), Some(0.0), 0.002);
        }
        say(&mut port, &recorder.text);
        say(&mut port, &sign(&format!("bench-{number}"), "spadix-visible"));
    }
    eventually("every bud is seen", || {
        house.figure("SELECT count(*) FROM event WHERE kind = 'bud-seen'") == BENCHES as i64
    });
    eventually("the page shows them", || get(at, "/").body.matches("in bud").count() == BENCHES);
    let median = |mut took_ms: Vec<f64>| {
        took_ms.sort_by(f64::total_cmp);
        (took_ms[took_ms.len() / 2], took_ms[took_ms.len() - 1])
    };
    for path in ["/", "/api/house", "/metrics"] {
        let answers = (0..LOADS).map(|_| {
            let asked = Instant::now();
            assert_eq!(get(at, path).status, 200, "{path}");
            asked.elapsed().as_secs_f64() * 1e3
        });
        let (answer, slowest) = median(answers.collect());
        println!("{BENCHES} benches, {path}, {LOADS} times: median {answer:.1} ms, most {slowest:.1} ms");
    }
    let presses = (0..LOADS).map(|number| {
        let bench = format!("bench-{}", number + 1);
        let pressed = Instant::now();
        assert_eq!(press(at, &bench, "sign=scent").status, 303);
        pressed.elapsed().as_secs_f64() * 1e3
    });
    let (answer, slowest) = median(presses.collect());
    println!(
        "{BENCHES} benches, a press until it is in the record, {LOADS} times: median {answer:.1} ms, most {slowest:.1} ms"
    );
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().expect("a runtime");
    let loads = runtime.block_on(async {
        let driver = Driver::start();
        let page = driver.open(Window::PHONE).await;
        let mut loads = Vec::new();
        for _ in 0..LOADS {
            page.client.goto(&format!("http://{at}/")).await.expect("the page opens");
            let took = "const [load] = performance.getEntriesByType('navigation'); return load.loadEventEnd - load.startTime";
            loads.push(page.run(took).await.as_f64().expect("a figure"));
        }
        loads
    });
    let (load, longest) = median(loads);
    println!(
        "{BENCHES} benches, loaded in Chromium, {LOADS} times: median {load:.0} ms, most {longest:.0} ms"
    );
}
