//! Forwarding: to servers that take the protocol, and through every kind of outage.
//!
//! No InfluxDB 2 could be had. What stands in for it: Debian's victoria-metrics, which takes `/api/v2/write`; Debian's influxdb
//! 1.6, whose parser is strict and takes the same lines; and a server of our own for outages, since the first loses on a kill
//! what it has acknowledged.
#![expect(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "helpers of tests fail them as tests do"
)]

mod databases;

use std::collections::{BTreeMap, HashMap};
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use anthesisd::clock::{Clock, Source};
use anthesisd::forward::{Forwarder, ForwarderNews, ForwarderSpec, Labels};
use anthesisd::notify::Pace;
use anthesisd::store::{Batch, Importer, LiveReader, Reader, Recorded, Store, Which};
use bloom_model::condition::Delays;
use bloom_model::quantity::Quantity;
use bloom_model::reading::Observed;
use bloom_model::time::Time;
use end_to_end::house::assert_alike;
use end_to_end::keyed_server::{BUCKET, Key, KeyedServer, Manner, ORGANIZATION, TOKEN};
use end_to_end::mosquitto::PATIENCE;
use end_to_end::service::eventually;
use rand::rngs::SmallRng;
use rand::{RngExt, SeedableRng};
use tempfile::TempDir;
use tokio::runtime::Runtime;
use tokio::sync::{mpsc, watch};
use tokio::task::JoinHandle;

/// 2026-06-01T00:00:00Z.
const START_MS: i64 = 1_780_272_000_000;

/// What every server is to hold of the record: its own reckoning of series, field, time and value.
fn expected(record: &Path) -> BTreeMap<Key, String> {
    let reader = Reader::open(record).unwrap();
    let mut all = BTreeMap::new();
    let (from, until) = (Time::from_unix_ms(i64::MIN), Time::from_unix_ms(i64::MAX));
    for bench in reader.benches().unwrap() {
        let plant = if &*bench == "east-3" { ",plant=AT-0412" } else { "" };
        let series = format!("bench,bench={bench}{plant},site=saltmarsh");
        let tell = |row: Recorded| {
            let (field, value) = match row.observed {
                Observed::Value(Quantity::Temperature, value) => ("temperature_c", value.to_string()),
                Observed::Value(Quantity::Humidity, value) => ("humidity_pct", value.to_string()),
                Observed::Value(Quantity::TipRange, value) => ("tip_range_m", value.to_string()),
                Observed::Value(Quantity::Height, value) => ("height_m", value.to_string()),
                Observed::Value(other, _) => panic!("not in these tests: {other:?}"),
                Observed::Sign(sign) => ("sign", format!("\"{sign}\"")),
            };
            all.insert((series.clone(), field.to_owned(), row.time.unix_ms()), value);
        };
        reader.readings(&bench, Which::Everything, from, until, tell).unwrap();
    }
    all
}

/// The server holds what is wanted, and nothing beyond it.
fn assert_holds(held: &BTreeMap<Key, String>, wanted: &BTreeMap<Key, String>) {
    let rows = |map: &BTreeMap<Key, String>| map.clone().into_iter().collect::<Vec<_>>();
    assert_alike(&rows(held), &rows(wanted));
}

fn reading(bench: &str, ms: i64, quantity: Quantity, value: f64) -> Recorded {
    let observed = Observed::Value(quantity, value);
    let time = Time::from_unix_ms(START_MS + ms);
    Recorded { bench: bench.into(), time, observed, note: None, by: None, fed: None }
}

/// A store, its keeper's part played by the test, and a forwarder beside it.
struct Site {
    _folder: TempDir,
    path: PathBuf,
    store: Store,
    spec: ForwarderSpec,
    runtime: Runtime,
    under_way: Option<UnderWay>,
}

struct UnderWay {
    task: JoinHandle<()>,
    stop: watch::Sender<bool>,
    news: mpsc::Receiver<ForwarderNews>,
}

impl Site {
    fn new(server: &KeyedServer) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("anthesisd.db");
        let token_file = folder.path().join("token");
        fs::write(&token_file, format!("{TOKEN}\n")).unwrap();
        let brisk = Duration::from_millis(5);
        let spec = ForwarderSpec {
            url: server.url(),
            organization: ORGANIZATION.to_owned(),
            bucket: BUCKET.to_owned(),
            token_file,
            labels: Labels::new("saltmarsh", HashMap::from([("east-3".into(), "AT-0412".to_owned())])),
            pace: Pace { first_retry: brisk, longest_retry: 4 * brisk, look: brisk, ..Pace::default() },
            lines_at_once: 100,
            behind: Delays { begin: PATIENCE, end: Duration::ZERO },
        };
        let mut store = Store::open(&path).unwrap();
        store.forward_to(&spec.destination()).unwrap();
        Self { _folder: folder, path, store, spec, runtime: Runtime::new().unwrap(), under_way: None }
    }

    fn start(&mut self) {
        self.start_by(Clock::of_machine());
    }

    fn start_by(&mut self, clock: Clock) {
        let (news_in, news) = mpsc::channel(4);
        let (stop, stopping) = watch::channel(false);
        let record = LiveReader::new(&self.path);
        let forwarder = Forwarder::new(self.spec.clone(), Arc::new(clock), record, news_in, stopping);
        let runtime = self.runtime.handle().clone();
        let task = self.runtime.spawn_blocking(move || runtime.block_on(forwarder.run()));
        self.under_way = Some(UnderWay { task, stop, news });
    }

    /// Stops the forwarder; what it last told may be lost, as in a crash.
    fn stop(&mut self) {
        if let Some(UnderWay { task, stop, news }) = self.under_way.take() {
            stop.send_replace(true);
            drop(news);
            self.runtime.block_on(task).unwrap();
        }
    }

    fn commit(&mut self, readings: Vec<Recorded>) {
        self.store.commit(&Batch { readings, ..Batch::default() }).unwrap();
    }

    /// The next news, written down if it is of what was sent, as the keeper does.
    fn next(&mut self) -> ForwarderNews {
        let news = &mut self.under_way.as_mut().unwrap().news;
        let next = self.runtime.block_on(async { tokio::time::timeout(PATIENCE, news.recv()).await });
        let news = next.expect("the forwarder told nothing for long").expect("it runs");
        self.write_down(&news);
        news
    }

    fn write_down(&mut self, news: &ForwarderNews) {
        if let ForwarderNews::Forwarded(forwarded) = news {
            self.store.commit(&Batch { forwarded: forwarded.clone(), ..Batch::default() }).unwrap();
        }
    }

    /// Writes down whatever was told by now.
    fn hear(&mut self) {
        while let Some(Ok(news)) = self.under_way.as_mut().map(|under_way| under_way.news.try_recv()) {
            self.write_down(&news);
        }
    }

    /// Until the record says that all of it was sent.
    fn settle(&mut self) {
        let reader = Reader::open(&self.path).unwrap();
        eventually("all is forwarded", || {
            self.hear();
            let state = reader.forwarding().unwrap().unwrap();
            state.sent_until >= state.newest && reader.late(1).unwrap().is_empty()
        });
    }
}

impl Drop for Site {
    fn drop(&mut self) {
        self.stop();
    }
}

/// So many readings of a bench, ten seconds apart.
fn stretch(bench: &str, from_ms: i64, count: i64) -> Vec<Recorded> {
    let value = |place: i64| 20.0 + (place % 97) as f64 / 10.0;
    (0..count)
        .map(|place| reading(bench, from_ms + place * 10_000, Quantity::Temperature, value(place)))
        .collect()
}

#[test]
fn every_reading_arrives_once_though_both_are_killed_again_and_again() {
    let server = KeyedServer::start();
    let mut site = Site::new(&server);
    let mut dice = SmallRng::seed_from_u64(20_260_601);
    let quantities = [Quantity::Temperature, Quantity::Humidity, Quantity::TipRange];
    site.start();
    for round in 0..60_i64 {
        // a stretch of the present, with some of it late by up to two days
        let mut readings = Vec::new();
        for _ in 0..200 {
            let bench = ["east-3", "east-4", "west-1"][dice.random_range(0..3)];
            let quantity = quantities[dice.random_range(0..3)];
            let late = if dice.random_range(0..10) == 0 { dice.random_range(0..172_800_000) } else { 0 };
            let ms = round * 60_000 + dice.random_range(0..60_000) - late;
            readings.push(reading(bench, ms, quantity, f64::from(dice.random_range(200..800)) / 10.0));
        }
        if round % 7 == 3 {
            // beside the keeper, as `import` does
            let mut importer = Importer::open(&site.path).unwrap();
            importer.import(readings).unwrap();
            importer.finish().unwrap();
        } else {
            site.commit(readings);
        }
        if round % 9 == 8 {
            while site.store.seal_step(Time::from_unix_ms(START_MS + round * 60_000)).unwrap() {}
        }
        match round % 6 {
            1 => server.behave_for(3, Manner::BreaksOff),
            2 => {
                server.kill();
                site.commit(stretch("west-1", round * 60_000 + 500, 20));
                server.restart();
            }
            4 => {
                // without a word of what it was about
                site.stop();
                site.start();
            }
            _ => site.hear(),
        }
    }
    site.settle();
    let (kept, wanted) = (server.kept(), expected(&site.path));
    assert!(wanted.len() > 10_000, "{}", wanted.len());
    assert_holds(&kept, &wanted);
}

#[test]
fn a_backlog_of_months_is_sent_in_its_order() {
    let server = KeyedServer::start();
    let mut site = Site::new(&server);
    // two spells of readings, and a quarter of a year of nothing between them
    site.commit(stretch("east-3", 0, 2_000));
    site.commit(stretch("east-3", 90 * 86_400_000, 2_000));
    site.start();
    site.settle();
    let bodies = server.bodies();
    let times = |body: &str| -> Vec<i64> {
        body.lines().map(|line| line.rsplit_once(' ').unwrap().1.parse().unwrap()).collect()
    };
    let times: Vec<i64> = bodies.iter().flat_map(|body| times(body)).collect();
    assert_eq!(times.len(), 4_000);
    assert!(times.is_sorted());
    assert!(bodies.iter().all(|body| body.lines().count() <= 100));
}

#[test]
fn a_reading_that_the_server_refuses_is_left_out_and_holds_up_nothing() {
    for others_are_kept in [true, false] {
        let server = KeyedServer::start();
        server.behave(Manner::Refuses("temperature_c=23.3 ", others_are_kept));
        let mut site = Site::new(&server);
        site.commit(stretch("east-3", 0, 500));
        site.start();
        site.settle();
        let mut wanted = expected(&site.path);
        let all = wanted.len();
        wanted.retain(|_, value| value != "23.3");
        assert_eq!((all, wanted.len()), (500, 495));
        assert_holds(&server.kept(), &wanted);
        // halving: of 100 lines with one at fault, at most two requests for each of seven halvings
        assert!(server.requests() <= 5 + 5 * 14 + 5, "{}", server.requests());
    }
}

#[test]
fn a_server_that_wants_shorter_requests_gets_them() {
    let server = KeyedServer::start();
    server.behave(Manner::AtMost(30));
    let mut site = Site::new(&server);
    site.commit(stretch("east-3", 0, 500));
    site.start();
    site.settle();
    assert_holds(&server.kept(), &expected(&site.path));
}

#[test]
fn what_says_nothing_about_the_readings_makes_it_wait_and_loses_none() {
    let server = KeyedServer::start();
    let mut site = Site::new(&server);
    site.start();
    for (round, status) in (0_i64..).zip([200, 302, 401, 403, 404, 405, 408, 429, 500, 502, 503, 504]) {
        let before = server.requests();
        server.behave_for(3, Manner::Answers(status));
        site.commit(stretch("east-3", round * 1_000_000, 50));
        site.settle();
        assert_eq!(server.requests(), before + 4, "{status}: three in vain, and one that took them all");
    }
    assert_holds(&server.kept(), &expected(&site.path));
}

#[test]
fn a_token_that_is_put_right_needs_no_restart_and_standing_still_is_told_once() {
    let server = KeyedServer::start();
    let mut site = Site::new(&server);
    site.spec.behind.begin = Duration::ZERO;
    fs::write(&site.spec.token_file, "cinnamon\n").unwrap();
    site.commit(stretch("east-3", 0, 10));
    site.start();
    let ForwarderNews::Behind { why, .. } = site.next() else { panic!("it stands still") };
    assert!(why.contains("401") && why.contains("put a token that may write to bucket"), "{why}");
    assert!(!why.contains("cinnamon"), "{why}");
    let before = server.requests();
    eventually("it tries again", || server.requests() > before + 2);
    fs::write(&site.spec.token_file, TOKEN).unwrap();
    let mut all = vec![site.next()];
    while !matches!(all.last(), Some(ForwarderNews::Over { .. })) {
        all.push(site.next());
    }
    let sent = |news: &ForwarderNews| matches!(news, ForwarderNews::Forwarded(_));
    assert!(all[..all.len() - 1].iter().all(sent), "{all:?}");
    assert_holds(&server.kept(), &expected(&site.path));
}

/// A clock that fails the first time it is asked how long something lasts.
#[derive(Debug, Default)]
struct Faulty {
    asked: AtomicBool,
}

impl Source for Faulty {
    fn wall(&self) -> Time {
        Time::from_unix_ms(START_MS)
    }

    fn monotonic(&self) -> Duration {
        assert!(self.asked.swap(true, Ordering::Relaxed), "as a bug would");
        Duration::from_secs(1)
    }

    fn synchronised(&self) -> Option<bool> {
        None
    }
}

#[test]
fn a_fault_of_our_own_is_told_and_ends_nothing() {
    let server = KeyedServer::start();
    let mut site = Site::new(&server);
    site.spec.behind.begin = Duration::ZERO;
    site.start_by(Clock::of_source(Box::new(Faulty::default())));
    let ForwarderNews::Behind { why, .. } = site.next() else { panic!("it stands still") };
    assert!(why.contains("a fault of this program"), "{why}");
    site.commit(stretch("east-3", 0, 10));
    site.settle();
    assert_holds(&server.kept(), &expected(&site.path));
}
