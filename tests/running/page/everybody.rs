//! Everybody can read the page and press on it, on a phone and on a screen, by day and at night.

use std::path::PathBuf;

use bench_sim::pty::Port;
use chrono::Utc;
use end_to_end::browser::{Driver, Window};
use end_to_end::bud::Recorder;
use end_to_end::line::say;
use end_to_end::service::{Service, eventually};
use serde_json::Value;

use super::browser::{assert_clean, bud, open, run, shows};
use super::{VIEWS, house, raise_alarm};

/// What is cut off, lies over something else, or is too small for gloves: 48 px (common practice).
const FAULTS: &str = r#"
const faults = [], width = document.documentElement.clientWidth;
if (document.documentElement.scrollWidth > width) faults.push("wider than the window: " + document.documentElement.scrollWidth);
const menu = document.querySelector("nav").getBoundingClientRect().height;
if (menu > 60) faults.push("the menu takes more than a line: " + menu);
for (const element of document.querySelectorAll("body *")) {
  const box = element.getBoundingClientRect();
  if (box.width === 0 || element.closest(".unseen, .skip, svg, [hidden]")) continue;
  if (box.right > width + 1 || box.left < -1) faults.push("out of the window: " + element.outerHTML.slice(0, 120));
  const target = element.matches("a[href], button, summary, input:not([type=hidden])");
  if (target && (box.height < 47.5 || box.width < 47.5)) faults.push("a small target: " + box.width + " x " + box.height + " " + element.outerHTML.slice(0, 120));
  if (element.matches(".press") && element.scrollWidth > element.clientWidth + 1) faults.push("a word runs over its edge: " + element.outerHTML.slice(0, 120));
  if (element.children.length === 0 && element.scrollWidth > element.clientWidth + 1 && element.clientWidth > 0 && getComputedStyle(element).overflow !== "visible")
    faults.push("cut off: " + element.outerHTML.slice(0, 120));
}
return faults.slice(0, 10);
"#;

/// The whole of axe-core, as npm brings it; `tests/run` installs it.
fn axe() -> String {
    let path =
        PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../target/npm/node_modules/axe-core/axe.min.js");
    std::fs::read_to_string(&path).expect("axe-core is there: tests/run installs it")
}

/// On a phone and on a screen, by day and by night, at rest and on bloom night: nothing serious by axe-core (WCAG 2.2), nothing cut
/// off, targets fit for gloves. Pictures are left in `ANTHESISD_PICTURES`, if it names a folder.
#[test]
fn it_can_be_read_and_pressed_by_everybody_everywhere() {
    run(async {
        let house = house().with_bench_of(
            "west-1",
            "tip = { mount_height_m = 3.1 }\nlimits = { temperature_c = [18, 24], humidity_pct = [60, 95], alarm_temperature_c = [15, 42] }",
        );
        let mut port = Port::open(&house.path("line")).unwrap();
        let service = Service::start(&house);
        bud(&mut port);
        let mut air = Recorder::new("west-1");
        air.pack(Utc::now().timestamp(), None, None, 0.0);
        say(&mut port, &air.text);
        eventually("the bud is seen", || {
            house.figure("SELECT count(*) FROM event WHERE kind = 'bud-seen'") == 1
        });
        let known = house.run(&["plant", "AT-0398", "add", "--taxon", "Amorphophallus titanum"]);
        assert!(known.status.success());
        let lot =
            house.run(&["pollen", "AT-0398", "collected", "6", "--stored", "-80", "--at", "yesterday 18:00"]);
        assert!(lot.status.success(), "{}", String::from_utf8_lossy(&lot.stderr));
        raise_alarm(&house, &mut port, "east-4");
        let axe = axe();
        let pictures = std::env::var_os("ANTHESISD_PICTURES").map(PathBuf::from);
        let driver = Driver::start();
        for (name, window) in [
            ("phone-day", Window::PHONE),
            ("phone-night", Window::PHONE.at_night()),
            ("screen-day", Window::SCREEN),
            ("screen-night", Window::SCREEN.at_night()),
        ] {
            let page = driver.open(window).await;
            for (place, path) in VIEWS {
                open(&page, &service, path).await;
                let faults = page.run(FAULTS).await;
                if let Some(folder) = &pictures {
                    page.picture(&folder.join(format!("{name}-{place}.png"))).await;
                }
                let grave = page.client.execute_async(
                    &format!("{axe}; const done = arguments[arguments.length - 1];
                      axe.run().then(said => done(said.violations.filter(one => ['serious', 'critical'].includes(one.impact))
                        .map(one => one.id + ': ' + one.nodes.map(node => node.html + ' ' + node.failureSummary).slice(0, 3).join(' | '))),
                        error => done(['' + error]));"),
                    Vec::new(),
                ).await.expect("axe-core runs");
                assert_eq!(faults, Value::Array(Vec::new()), "{name}, {path}");
                assert_eq!(grave, Value::Array(Vec::new()), "{name}, {path}");
            }
            assert_clean(&page, &service);
        }
    });
}

/// What a grower sees in four states of a house, on a phone and on a screen: what is so is said, nothing is cut off. Pictures are left in
/// `ANTHESISD_PICTURES`, if it names a folder.
#[test]
fn each_state_of_a_house_says_what_is_so() {
    const NARROW: Window = Window { width: 390, height: 844, dark: false };
    run(async {
        // by day a new bud brings a test alarm, by night it waits
        let house = house().where_it_is_noon();
        let mut port = Port::open(&house.path("line")).unwrap();
        let service = Service::start(&house);
        let driver = Driver::start();
        let windows = [("390", driver.open(NARROW).await), ("1400", driver.open(Window::SCREEN).await)];
        let pictures = std::env::var_os("ANTHESISD_PICTURES").map(PathBuf::from);
        let looked_at = async |state: &str, path: &str, wanted: &[&str]| {
            for (width, page) in &windows {
                open(page, &service, path).await;
                for text in wanted {
                    shows(page, text).await;
                }
                assert_eq!(page.run(FAULTS).await, Value::Array(Vec::new()), "{state}, {path}, {width}");
                if let Some(folder) = &pictures {
                    let place = path.trim_matches('/').replace('/', "-");
                    page.picture(&folder.join(format!("{state}-{width}-{place}.png"))).await;
                }
            }
        };
        looked_at("started", "/", &["None of 2 benches is read.", "none yet"]).await;
        looked_at("started", "/bench/east-3", &["east-3 is not read", "Take care: sap"]).await;

        // read, but not lately
        let mut recorder = Recorder::new("east-3");
        recorder.pack(Utc::now().timestamp() - 3_000, Some(1.5), Some(0.0), 0.002);
        let mut well = Recorder::new("east-4");
        well.pack(Utc::now().timestamp(), Some(0.9), Some(0.0), 0.002);
        say(&mut port, &recorder.text);
        say(&mut port, &well.text);
        looked_at("silent", "/", &["east-3 is not read.", "silent for 50 min", "25.0 °C old"]).await;
        looked_at("silent", "/bench/east-3", &["east-3 is not read", "silent for"]).await;

        let booked = |sign: &str| {
            let by = [
                "--by",
                "Robin of the evening shift",
                "--note",
                "seen from the ladder, by the light of a head torch",
            ];
            let output = house.run(&[&["sign", "east-3", sign], &by[..]].concat());
            assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        };
        booked("spadix-visible");
        booked("opened");
        // two: the test that a new bud brings, and the opening
        looked_at("opening", "/", &["2 alarms need somebody.", "east-3 is not read.", "Full bloom"]).await;
        looked_at("opening", "/bench/east-3", &["east-3: opening", "Take care: sap", "Withdraw"]).await;
        looked_at("opening", "/tonight", &["Open since about", "Take care"]).await;

        for sign in ["full-open", "pollinated", "pollen-collected", "closed", "fruit-set"] {
            booked(sign);
        }
        looked_at("fruit", "/", &["in fruit"]).await;
        looked_at("fruit", "/bench/east-3", &["east-3: in fruit", "Take care: sap"]).await;
        looked_at("fruit", "/tonight", &["Take care", "see a doctor", "no open flame"]).await;
    });
}
