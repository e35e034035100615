//! The page in Chromium: kept up to date, pressed and typed at, on a phone and on a screen, by day and by night.

use std::future::Future;
use std::time::{Duration, Instant};

use bench_sim::pty::Port;
use bloom_model::sign::PlainSign;
use chrono::Utc;
use end_to_end::browser::{Driver, Page, Window};
use end_to_end::bud::Recorder;
use end_to_end::line::{say, sign};
use end_to_end::mosquitto::PATIENCE;
use end_to_end::service::{Service, eventually};
use end_to_end::web::page_of;
use fantoccini::Locator;
use fantoccini::key::Key;
use serde_json::Value;

use super::{house, noted_by, raise_alarm};

pub(super) fn run(check: impl Future<Output = ()>) {
    tokio::runtime::Builder::new_current_thread().enable_all().build().expect("a runtime").block_on(check);
}

/// A plant in bud on `east-3` for two days, read every minute.
pub(super) fn bud(port: &mut Port) {
    let now = Utc::now().timestamp();
    let mut recorder = Recorder::new("east-3");
    for minute in -2 * 24 * 60..=0 {
        let grown = 0.04 * f64::from(minute) / (24.0 * 60.0);
        recorder.pack(now + i64::from(minute) * 60, Some(1.5 + grown), Some(0.0), 0.002);
    }
    say(port, &recorder.text);
    say(port, &sign("east-3", "spadix-visible"));
}

/// Waits until the page shows that text.
pub(super) async fn shows(page: &Page, text: &str) {
    let deadline = Instant::now() + PATIENCE;
    loop {
        let seen = page.run("return document.querySelector('main').innerText").await;
        if seen.as_str().is_some_and(|seen| seen.contains(text)) {
            return;
        }
        assert!(
            Instant::now() < deadline,
            "the page never showed {text:?}; it shows:\n{}",
            seen.as_str().unwrap_or_default()
        );
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
}

pub(super) async fn open(page: &Page, service: &Service, path: &str) {
    page.client.goto(&format!("http://{}{path}", page_of(service))).await.expect("the page opens");
}

/// No script failed, the content policy forbade nothing, and nobody but the daemon was asked for anything.
pub(super) fn assert_clean(page: &Page, service: &Service) {
    assert_eq!(page.complaints(), Vec::<String>::new());
    let own = format!("http://{}/", page_of(service));
    let foreign = |address: &&String| {
        !address.starts_with(&own) && !address.starts_with("data:") && !address.starts_with("chrome")
    };
    let requests = page.requests();
    assert!(requests.iter().any(|address| address.starts_with(&own)), "{requests:?}");
    assert_eq!(requests.iter().filter(foreign).collect::<Vec<_>>(), Vec::<&String>::new());
}

#[test]
fn an_alarm_appears_by_itself_and_is_acknowledged_by_press_and_by_keyboard() {
    run(async {
        let house = house();
        let mut port = Port::open(&house.path("line")).unwrap();
        let service = Service::start(&house);
        let driver = Driver::start();
        let page = driver.open(Window::PHONE).await;
        open(&page, &service, "/").await;
        shows(&page, "None of 2 benches is read.").await;
        page.run("window.never_loaded_again = true").await;

        let id = raise_alarm(&house, &mut port, "east-3");
        let raised = Instant::now();
        shows(&page, "One alarm needs somebody.").await;
        let took = raised.elapsed();
        // printed and not judged: the machine may have other work. The issue asks for two seconds
        println!("an alarm was on the page {:.0} ms after it was in the store", took.as_secs_f64() * 1e3);
        assert_eq!(page.run("return window.never_loaded_again").await, Value::Bool(true), "without a reload");
        assert!(page.client.title().await.expect("a title").starts_with("(1) ALARM"));
        // by press
        page.client
            .find(Locator::Id(&format!("note-{id}")))
            .await
            .expect("a press")
            .click()
            .await
            .expect("it is pressed");
        shows(&page, "One alarm stands, acknowledged.").await;
        eventually("it is noted", || noted_by(&house, &id, ""));

        // by keyboard: from the top of the page to the press, and Enter
        let id = raise_alarm(&house, &mut port, "east-4");
        shows(&page, "One alarm needs somebody.").await;
        page.run("document.activeElement.blur()").await;
        tab_to(&page, &format!("note-{id}")).await;
        page.client
            .active_element()
            .await
            .expect("a focus")
            .send_keys(&Key::Enter.to_string())
            .await
            .expect("a key");
        shows(&page, "alarms stand, all acknowledged.").await;
        eventually("it is noted", || noted_by(&house, &id, ""));
        assert_clean(&page, &service);
    });
}

/// Presses Tab until that element has the focus.
async fn tab_to(page: &Page, id: &str) {
    let mut reached = false;
    for _ in 0..60 {
        let focused = page.client.active_element().await.expect("a focus");
        focused.send_keys(&Key::Tab.to_string()).await.expect("a key");
        reached = page.run("return document.activeElement.id").await == id;
        if reached {
            break;
        }
    }
    assert!(reached, "{id} cannot be reached by Tab");
}

/// A whole bloom night, booked from the page: each sign that it offers at some stage, by press and by keyboard in turn.
#[test]
fn bloom_night_is_booked_at_a_press_and_seen_at_once() {
    use PlainSign::{
        Closed, EdgeColoured, EdgeLoose, Flies, FruitRipe, FruitSet, FullOpen, LastBractDropped, Opened,
        PollenCollected, Pollinated, Scent, SpadixVisible,
    };
    run(async {
        let house = house();
        let port = Port::open(&house.path("line")).unwrap();
        let service = Service::start(&house);
        let driver = Driver::start();
        let page = driver.open(Window::PHONE).await;
        open(&page, &service, "/bench/east-3").await;
        let night = [
            SpadixVisible,
            EdgeColoured,
            LastBractDropped,
            EdgeLoose,
            Opened,
            Scent,
            FullOpen,
            Flies,
            Pollinated,
            PollenCollected,
            Closed,
            FruitSet,
            FruitRipe,
        ];
        for (number, sign) in night.into_iter().enumerate() {
            let press = format!("book-{}", sign.name());
            page.client
                .wait()
                .for_element(Locator::Id(&press))
                .await
                .unwrap_or_else(|error| panic!("{press}: {error}"));
            if number % 2 == 0 {
                page.client
                    .find(Locator::Id(&press))
                    .await
                    .expect("a press")
                    .click()
                    .await
                    .expect("it is pressed");
            } else {
                tab_to(&page, &press).await;
                page.client.active_element().await.expect("a focus").send_keys(" ").await.expect("a key");
            }
            shows(&page, "✓ Recorded:").await;
            let booked =
                format!("SELECT count(*) FROM booked WHERE bench = 'east-3' AND what = '{}'", sign.name());
            eventually(sign.name(), || house.figure(&booked) == 1);
            open(&page, &service, "/bench/east-3").await;
        }
        drop(port);
        assert_clean(&page, &service);
    });
}

#[test]
fn a_wrong_booking_is_withdrawn_at_a_press() {
    run(async {
        let house = house();
        let _port = Port::open(&house.path("line")).unwrap();
        let service = Service::start(&house);
        let driver = Driver::start();
        let page = driver.open(Window::SCREEN).await;
        open(&page, &service, "/bench/east-3").await;
        for sign in ["spadix-visible", "opened"] {
            let press = format!("book-{sign}");
            page.client
                .wait()
                .for_element(Locator::Id(&press))
                .await
                .expect("a press")
                .click()
                .await
                .expect("it is pressed");
            shows(&page, "✓ Recorded:").await;
        }
        shows(&page, "east-3: opening").await;
        let withdraw =
            page.client.wait().for_element(Locator::Css("[id^=withdraw-opened]")).await.expect("a press");
        withdraw.click().await.expect("it is pressed");
        shows(&page, "✓ Withdrawn: It is opening, east-3, ").await;
        shows(&page, "east-3: in bud").await;
        eventually("the alarm is over", || {
            house.figure("SELECT count(*) FROM alarm WHERE kind = 'opening-tonight' AND ended_ms IS NULL")
                == 0
        });
        assert_clean(&page, &service);
    });
}

#[test]
fn a_daemon_that_is_lost_is_said_to_be_and_found_again() {
    run(async {
        let house = house();
        let _port = Port::open(&house.path("line")).unwrap();
        let service = Service::start(&house);
        let at = page_of(&service);
        let driver = Driver::start();
        let page = driver.open(Window::PHONE).await;
        open(&page, &service, "/").await;
        shows(&page, "None of 2 benches is read.").await;
        service.kill();
        let contact = page.client.find(Locator::Id("contact")).await.expect("a line");
        page.client
            .wait()
            .at_most(PATIENCE)
            .for_element(Locator::Css("#contact:not([hidden])"))
            .await
            .expect("it is said");
        let said = contact.text().await.expect("a text");
        assert!(said.contains("This page has heard nothing since ") && said.contains(':'), "{said}");
        // the same port again
        let again = house.with_instead(&format!("[page]\nlisten = \"{at}\"\n"));
        let _service = Service::start(&again);
        page.client
            .wait()
            .at_most(PATIENCE * 2)
            .for_element(Locator::Css("#contact[hidden]"))
            .await
            .expect("it is found again");
    });
}
