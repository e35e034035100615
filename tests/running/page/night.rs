//! The page of a bench on its opening night: the edge comes first, and what is recorded may have its time, its pollen and its name.

use bench_sim::pty::Port;
use chrono::{Local, TimeDelta, Utc};
use end_to_end::browser::{Driver, Window};
use end_to_end::bud::Recorder;
use end_to_end::line::say;
use end_to_end::service::{Service, eventually};
use end_to_end::web::page_of;
use serde_json::Value;

use super::browser::{bud, open, run, shows};
use super::presses::press;
use super::{get, house, raise_alarm};

#[test]
fn the_edge_is_in_the_first_screen_of_a_phone() {
    run(async {
        let house = house();
        let mut port = Port::open(&house.path("line")).unwrap();
        let service = Service::start(&house);
        bud(&mut port);
        eventually("the bud is seen", || {
            house.figure("SELECT count(*) FROM event WHERE kind = 'bud-seen'") == 1
        });
        raise_alarm(&house, &mut port, "east-3");
        let mut opening = Recorder::new("east-3");
        opening.pack(Utc::now().timestamp() + 1, Some(1.5), Some(0.031), 0.0);
        say(&mut port, &opening.text);
        let driver = Driver::start();
        for window in [Window::PHONE, Window::PHONE.at_night()] {
            let page = driver.open(window).await;
            open(&page, &service, "/bench/east-3").await;
            shows(&page, "What to do next").await;
            let below =
                "return document.getElementById('edge-curve').getBoundingClientRect().bottom - innerHeight";
            let below = page.run(below).await.as_f64().expect("a curve");
            assert!(below <= 0.0, "the curve ends {below} px below the first screen");
            // the clock stands beside what is to be done, and says its windows to those who do not see it
            let clock =
                page.run("return document.querySelector('svg.dial').getAttribute('aria-label')").await;
            assert!(clock.as_str().is_some_and(|clock| clock.contains("receptive: ")), "{clock}");
            let page_says = page.run("return document.querySelector('main').innerText").await;
            assert!(page_says.as_str().is_some_and(|said| said.contains("not alone")), "{page_says}");
            assert_eq!(
                page.run("return document.querySelectorAll('details.day').length > 0").await,
                Value::Bool(true)
            );
        }
    });
}

#[test]
fn time_pollen_and_name_are_recorded_where_they_are_given_and_no_hour_to_come_is() {
    let house = house();
    let mut port = Port::open(&house.path("line")).unwrap();
    let service = Service::start(&house);
    let at = page_of(&service);
    raise_alarm(&house, &mut port, "east-3");
    // whatever the site's zone: yesterday noon is past there, and tomorrow night to come
    let day = |days: i64| (Local::now() + TimeDelta::days(days)).format("%Y-%m-%d").to_string();
    let form = format!("sign=pollinated&at={}T12:00&lot=AT-0398-2027a&by=Robin", day(-1));
    assert_eq!(press(at, "east-3", &form).status, 303);
    eventually("it is recorded with all of it", || {
        house.figure(
            "SELECT count(*) FROM booked WHERE what = 'pollinated' AND by = 'Robin' AND note = 'with pollen AT-0398-2027a'",
        ) == 1
    });
    let refused = press(at, "east-3", &format!("sign=scent&at={}T23:00", day(2)));
    assert!(refused.status == 400 && refused.body.contains("still to come"), "{refused:?}");
    assert_eq!(house.figure("SELECT count(*) FROM booked WHERE what = 'scent'"), 0);
    // left empty they are nothing
    assert_eq!(press(at, "east-3", "sign=scent&at=&lot=&by=").status, 303);
    eventually("it is recorded as of now", || {
        house.figure("SELECT count(*) FROM booked WHERE what = 'scent' AND by IS NULL AND note IS NULL") == 1
    });
    eventually("the page shows it", || get(at, "/bench/east-3").body.contains("with pollen AT-0398-2027a"));
}
