//! A daemon that is killed anywhere and started again tells the same as one that never died: nothing twice, nothing missing.
#![expect(clippy::expect_used, reason = "what the helpers of a check cannot do fails the check")]

use std::fs::{self, File, OpenOptions};
use std::io::Write;
use std::ops::Range;
use std::path::Path;
use std::sync::Arc;
use std::thread;
use std::time::Duration;

use anthesisd::config::load;
use bench_sim::options::{PlantWishes, SeasonOptions};
use bench_sim::recording::write_recording;
use bench_sim::season::Season;
use bench_sim::trouble::Troubles;
use bench_sim::truth::Outcome;
use bloom_model::bench::Bench;
use bloom_model::quantity::Quantity;
use bloom_model::reading::Observed;
use bloom_model::sign::{MovedMounts, Sign};
use bloom_model::time::Time;
use chrono::NaiveDate;
use end_to_end::bud::Recorder;
use end_to_end::house::{House, assert_alike};
use end_to_end::service::{Service, eventually};
use rand::rngs::SmallRng;
use rand::{RngExt, SeedableRng};
use rusqlite::Connection;
use rusqlite::types::FromSql;
use rustix::fs::{CWD, FileType, Mode, mknodat};
use rustix::io::ioctl_fionread;

/// Two benches that open, with tape and signs, read every five minutes; the first with every trouble of a house, which brings
/// events by the hundred.
fn recording() -> String {
    let benches = [("east-3", 3, Troubles::all()), ("east-4", 4, Troubles::NONE)];
    let seasons = benches.map(|(bench, seed, troubles)| {
        let plant = PlantWishes {
            outcome: Some(Outcome::Opens),
            emerges_on: NaiveDate::from_ymd_opt(2027, 4, 25),
            days_to_opening: Some(36),
            ..PlantWishes::default()
        };
        let options = SeasonOptions {
            bench: bench.to_owned(),
            interval_s: 300,
            tape: true,
            signs: true,
            troubles,
            plant,
            ..SeasonOptions::default()
        };
        Season::draw(seed, &options)
    });
    let mut text = Vec::new();
    write_recording(&seasons, &mut text).expect("memory can be written to");
    // long enough for the bloom to be over: signs of it that are sent again must not pass for those of a new bud
    let mut after = seasons.each_ref().map(|season| Recorder::new(&season.options().bench));
    let end_s = seasons.iter().map(|season| season.truth().end.unix_ms() / 1000).max().unwrap_or_default();
    for second in (end_s + 600..end_s + 10 * 24 * 3600).step_by(600) {
        for bench in &mut after {
            bench.text.clear();
            bench.pack(second, Some(0.4), Some(0.1), 0.002);
            text.extend_from_slice(bench.text.as_bytes());
        }
    }
    String::from_utf8(text).expect("a recording is text")
}

/// The house, and what `replay` makes of the recording, which lies in it.
fn house(text: &str) -> (House, Vec<String>) {
    let house = House::new().with_bench("east-3").with_bench("east-4");
    let told = house.replay_lines(text);
    for kind in ["bud-seen", "morning", "sign-booked", "opening-tonight", "full-open", "closed"] {
        assert!(told.iter().any(|line| line.contains(&format!("\"event\":\"{kind}\""))), "{kind} is told");
    }
    (house, told)
}

/// Stops the service in order and checks what the store holds.
fn ends_like(service: Service, house: &House, told: &[String]) {
    let (status, log) = service.terminate();
    assert!(status.success(), "{status}\n{log}");
    assert_alike(&house.stored_events(), told);
    assert_eq!(house.figure("SELECT count(*) FROM entry"), 0);
    let check = house.store().query_row("PRAGMA integrity_check", [], |row| row.get::<_, String>(0));
    assert_eq!(check.as_deref(), Ok("ok"));
}

/// What a life leaves behind beside its events.
#[derive(Debug, PartialEq)]
struct Left {
    /// Every alarm that was ever raised, with whether it has ended.
    alarms: Vec<(String, bool)>,
    /// All that the benches remember, to the last bit.
    states: Vec<(String, Vec<u8>)>,
    readings: i64,
}

fn left(house: &House) -> Left {
    let store = house.store();
    Left {
        alarms: pairs(&store, "SELECT event_id, ended_ms IS NOT NULL FROM alarm ORDER BY 1"),
        states: pairs(&store, "SELECT bench, state FROM checkpoint ORDER BY 1"),
        readings: house.figure("SELECT (SELECT count(*) FROM reading) + (SELECT count(*) FROM booked)"),
    }
}

fn pairs<T: FromSql>(store: &Connection, sql: &str) -> Vec<(String, T)> {
    let mut statement = store.prepare(sql).expect("a right question");
    let rows = statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?))).expect("rows");
    rows.collect::<Result<_, _>>().expect("pairs")
}

fn run_undisturbed(house: &House, told: &[String]) -> Left {
    let service = Service::start(house);
    service.wait_for_log("the recording has been read to its end");
    ends_like(service, house, told);
    left(house)
}

#[test]
fn a_service_that_never_dies_tells_what_replay_tells() {
    let (house, told) = house(&recording());
    let house = house.with_recording("recording.jsonl");
    let once = run_undisturbed(&house, &told);
    assert!(once.alarms.iter().any(|(id, _)| id.contains("/opening-tonight/")), "{:?}", once.alarms);
    // read again from its beginning by the next life: everything is known
    assert!(run_undisturbed(&house, &told) == once);
}

#[test]
fn killed_again_and_again_it_tells_the_same() {
    let (house, told) = house(&recording());
    let house = house.with_recording("recording.jsonl");
    let undisturbed = run_undisturbed(&house, &told);
    let wanted = if std::env::var_os("ANTHESISD_LONG").is_some() { 1_000 } else { 1 };
    let mut kills = 0;
    for seed in 0.. {
        if kills >= wanted {
            break;
        }
        for file in ["anthesisd.db", "anthesisd.db-wal", "anthesisd.db-shm", "anthesisd.db-mirror"] {
            let _ = fs::remove_file(house.path(file));
        }
        kills += kill_again_and_again(&house, told.len(), seed);
        let service = Service::start(&house);
        service.wait_for_log("the recording has been read to its end");
        ends_like(service, &house, &told);
        let disturbed = left(&house);
        assert_eq!(disturbed.alarms, undisturbed.alarms);
        assert!(disturbed == undisturbed, "readings or states differ");
    }
    println!(
        "{kills} kills: no event lost, none doubled. That shows with 95 % confidence a loss in fewer than {:.1} % of kills (3/n).",
        300.0 / f64::from(kills)
    );
}

/// Kills at moments spread over all that there is to tell, some of them while the next life is just beginning; says how often.
fn kill_again_and_again(house: &House, events: usize, seed: u64) -> u32 {
    const KILLS: usize = 40;
    let mut random = SmallRng::seed_from_u64(seed);
    let (mut reached, mut kills) = (Vec::new(), 0);
    for kill in 1..=KILLS {
        let service = Service::start(house);
        let target = i64::try_from(events * kill / (KILLS + 1)).expect("a small number");
        eventually("the service tells on", || {
            count(house) >= target || service.log().contains("the recording has been read to its end")
        });
        thread::sleep(Duration::from_micros(random.random_range(0..5_000)));
        if random.random_bool(0.2) {
            // a stop in order, so that the next life begins with the benches' states and not with the first reading
            assert!(service.terminate().0.success());
        } else {
            service.kill();
            kills += 1;
        }
        reached.push(count(house));
        if random.random_bool(0.4) {
            let service = Service::spawn(house);
            thread::sleep(Duration::from_micros(random.random_range(0..60_000)));
            service.kill();
            kills += 1;
        }
    }
    println!("seed {seed}: of {events} events told at each kill: {reached:?}");
    kills
}

fn count(house: &House) -> i64 {
    house.figure("SELECT max(number) FROM event")
}

#[test]
fn a_pipe_that_is_cut_in_the_middle_of_lines_tells_the_same() {
    let text = recording();
    let (house, told) = house(&text);
    let house = house.with_recording("pipe");
    let pipe = house.path("pipe");
    mknodat(CWD, &pipe, FileType::Fifo, Mode::RUSR | Mode::WUSR, 0).expect("a pipe can be made");
    let cuts = if std::env::var_os("ANTHESISD_LONG").is_some() { 200 } else { 16 };
    let mut random = SmallRng::seed_from_u64(1);
    let mut service = Service::start(&house);
    let mut from = 0;
    for cut in 1..=cuts {
        let until = (text.len() * cut / (cuts + 1)).max(from) + random.random_range(0..300);
        let mut writer = write_to(&pipe, &text, from..until.min(text.len()));
        if cut % 2 == 0 {
            // whoever writes breaks off, and begins anew with the line that was cut
            drop(writer);
            from = text[..until].rfind('\n').map_or(0, |end| end + 1);
        } else {
            service.kill();
            assert!(writer.write_all(b"\n").is_err(), "nobody reads the pipe any more");
            // with it goes what the pipe still holds
            drop(writer);
            from = first_not_committed(&house, &text);
            service = Service::start(&house);
        }
    }
    let writer = write_to(&pipe, &text, from..text.len());
    eventually("the pipe is read to its end", || ioctl_fionread(&writer).is_ok_and(|bytes| bytes == 0));
    ends_like(service, &house, &told);
}

fn write_to(pipe: &Path, text: &str, what: Range<usize>) -> File {
    // opening waits for the reader
    let mut writer = OpenOptions::new().write(true).open(pipe).expect("the pipe can be opened");
    writer.write_all(&text.as_bytes()[what]).expect("the service reads the pipe");
    writer
}

/// Where the first line begins that is later than anything committed; both benches speak in turn, in the order of time.
fn first_not_committed(house: &House, text: &str) -> usize {
    let newest_s = house.figure("SELECT max(time_ms) FROM reading") / 1000;
    let later = |line: &&str| {
        let (_, rest) = line.split_once("\"bt\":").expect("a base time");
        let digits: String = rest.chars().take_while(char::is_ascii_digit).collect();
        digits.parse::<i64>().expect("whole seconds") >= newest_s
    };
    let place = |line: &str| line.as_ptr() as usize - text.as_ptr() as usize;
    text.lines().find(later).map_or(text.len(), place)
}

/// Noon of a day in June.
const NOON: Time = Time::from_unix_ms(1_780_315_200_000);

/// Tells a bench for some minutes of a rim that stands still, as a ranger hung at that distance reports it.
fn tell_of_a_still_rim(bench: &mut Bench, minutes: Range<i32>, distance_m: f64) {
    for minute in minutes {
        let (time, noise_m) = (NOON.plus_hours(f64::from(minute) / 60.0), f64::from(minute % 3 - 1) / 1e3);
        bench.take(time, &Observed::Value(Quantity::RimRange, distance_m + noise_m), &mut Vec::new());
    }
}

#[test]
fn a_distance_that_is_configured_anew_holds_from_the_next_start_and_is_no_growth() {
    let configured = |distance_m: f64| {
        let rim = format!("rim = {{ mount_distance_m = {distance_m} }}");
        let house = House::new().with_bench_of("east-3", &rim).with_serial("line");
        let mut config = load(&house.config()).unwrap();
        Bench::new(&Arc::new(config.site.clone()), config.benches.remove(0).spec)
    };
    let mut bench = configured(0.95);
    tell_of_a_still_rim(&mut bench, 0..120, 0.95);
    // hung 30 cm further out, as a person booked; then by another 10 cm, as the configuration says from the next start on
    let moved = Sign::MountMoved(MovedMounts { tip_m: None, rim_m: Some(1.25) });
    bench.take(NOON.plus_hours(2.0), &Observed::Sign(moved), &mut Vec::new());
    tell_of_a_still_rim(&mut bench, 121..240, 1.25);
    let rim_m = |bench: &Bench| bench.rim().newest().unwrap().position_m;
    for (configured_m, hangs_m) in [(0.95, 1.25), (1.35, 1.35)] {
        let mut next = configured(configured_m);
        next.restore(bench.state().clone());
        tell_of_a_still_rim(&mut next, 241..246, hangs_m);
        let rim = next.rim().newest().unwrap();
        // at the wrong distance it would wait for half an hour whether the mount was knocked
        let age_h = NOON.plus_hours(245.0 / 60.0).hours_since(rim.time);
        assert!(age_h < 2.5 / 60.0, "{configured_m}: followed until {age_h} h ago");
        let moved_m = rim_m(&next) - rim_m(&bench);
        assert!(moved_m.abs() < 0.005, "{configured_m}: {moved_m}");
    }
}
