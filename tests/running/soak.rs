//! A year of a house in one run: memory that does not grow, events as the plants gave them, and the same again byte for byte.
#![expect(clippy::expect_used, reason = "what the helpers of a check cannot do fails the check")]

use std::fs::{File, OpenOptions};
use std::io::{BufWriter, Write};
use std::process::Stdio;

use bench_sim::options::{PlantWishes, SeasonOptions};
use bench_sim::recording::{Packs, Stamp};
use bench_sim::season::Season;
use bench_sim::trouble::{Trouble, Troubles};
use bench_sim::truth::Outcome;
use bloom_model::time::Time;
use chrono::{Days, NaiveDate};
use end_to_end::house::{House, assert_alike, events_of};
use end_to_end::service::{Service, eventually};
use rustix::fs::{CWD, FileType, Mode, mknodat};
use rustix::io::ioctl_fionread;
use serde_json::Value;

/// As a house reports: at longer intervals the first day fills little of what is filled once, the store's cache above all.
const INTERVAL_S: i64 = 60;
/// A house and its plants: each bench blooms once, at its own time of the year, and rests before and after.
struct Year {
    seasons: Vec<Season>,
    start_s: i64,
    days: i64,
}

impl Year {
    fn new(benches: u32, days: i64) -> Self {
        let first = NaiveDate::from_ymd_opt(2027, 1, 1).expect("a date");
        let start_s = first.and_hms_opt(12, 0, 0).expect("noon").and_utc().timestamp();
        let seasons = (0..benches).map(|bench| {
            // the last of them is over before the end
            let emerges = u64::from(bench) * (days as u64 - 75) / u64::from(benches);
            let plant = PlantWishes {
                outcome: Some(Outcome::Opens),
                emerges_on: Some(first + Days::new(10 + emerges)),
                days_to_opening: Some(36),
                // a gap that opens and closes the day before is an alarm and its end: told right, and not counted here
                gap_that_closes: Some(false),
                ..PlantWishes::default()
            };
            let troubles =
                if bench % 2 == 0 { Troubles::NONE } else { Troubles::NONE.with(Trouble::PowerCuts) };
            let bench_id = format!("bench-{bench}");
            let options = SeasonOptions {
                bench: bench_id,
                interval_s: INTERVAL_S as u32,
                troubles,
                plant,
                ..SeasonOptions::default()
            };
            Season::draw(u64::from(bench) + 1, &options)
        });
        Self { seasons: seasons.collect(), start_s, days }
    }

    fn house(&self) -> House {
        let alarm = "[alarm]\nheat_index_c = [57, 58]\n";
        self.seasons
            .iter()
            .fold(House::new().with(alarm), |house, season| house.with_bench(&season.options().bench))
    }

    /// Writes every day of it, and calls after each.
    fn write(&self, mut to: impl Write, mut after_day: impl FnMut(i64)) {
        let mut benches: Vec<_> =
            self.seasons.iter().map(|season| (season, Packs::new(season, Stamp::Season))).collect();
        let mut line = Vec::new();
        for round in 0..self.days * 86_400 / INTERVAL_S {
            let second = self.start_s + round * INTERVAL_S;
            let until = Time::from_unix_ms((second + INTERVAL_S) * 1000);
            for (number, (season, packs)) in benches.iter_mut().enumerate() {
                let now = Time::from_unix_ms(second * 1000);
                line.clear();
                while packs.peek_time().is_some_and(|time| time < until) {
                    packs.next_line(&mut line);
                }
                let truth = season.truth();
                if now < truth.start || now >= truth.end {
                    rests(&mut line, &season.options().bench, second, number);
                }
                to.write_all(&line).expect("somebody reads");
            }
            if (round + 1) % (86_400 / INTERVAL_S) == 0 {
                after_day((round + 1) / (86_400 / INTERVAL_S));
            }
        }
        to.flush().expect("somebody reads");
    }
}

/// A bench at rest: a day's air, an empty pot, and a leaf's edge that does not move.
fn rests(line: &mut Vec<u8>, bench: &str, second: i64, number: usize) {
    let hour = (second % 86_400) as f64 / 3600.0;
    let dither = ((second / INTERVAL_S * 7919 + number as i64 * 104_729) % 1009) as f64 / 1009.0 - 0.5;
    let temperature = 24.0 + 3.0 * ((hour - 14.0) / 12.0 * std::f64::consts::PI).cos() + 0.2 * dither;
    let (humidity, tip, rim) = (75.0 + 2.0 * dither, 3.0 + 0.004 * dither, 0.95 + 0.004 * dither);
    writeln!(
        line,
        r#"[{{"bn":"{bench}/","bt":{second},"n":"temperature","u":"Cel","v":{temperature:.2}}},{{"n":"humidity","u":"%RH","v":{humidity:.1}}},{{"n":"tip-range","u":"m","v":{tip:.3}}},{{"n":"rim-range","u":"m","v":{rim:.3}}}]"#
    )
    .expect("memory can be written to");
}

/// What `replay` tells of it.
fn replayed(year: &Year, house: &House) -> Vec<String> {
    let output = File::create(house.path("events")).expect("a file");
    let mut replay = house
        .command(&["replay", "-"])
        .stdin(Stdio::piped())
        .stdout(output)
        .stderr(Stdio::null())
        .spawn()
        .expect("the binary starts");
    year.write(BufWriter::new(replay.stdin.take().expect("its input is piped")), |_| {});
    assert!(replay.wait().expect("it ends").success());
    std::fs::read_to_string(house.path("events")).expect("a text").lines().map(str::to_owned).collect()
}

/// Each plant opened once, and that is what was told, in time; nothing else was an opening.
fn as_the_plants_gave_them(year: &Year, told: &[String]) {
    let events = events_of(&told.join("\n"));
    let text = |event: &Value, key: &str| event[key].as_str().unwrap_or_default().to_owned();
    for season in &year.seasons {
        let truth = season.truth();
        let (crack, full) = truth.crack.zip(truth.full_open).expect("it opens");
        let bench = &season.options().bench;
        let own = |kind: &str| -> Vec<String> {
            let of = |event: &&Value| text(event, "bench") == *bench && text(event, "event") == kind;
            events.iter().filter(of).map(|event| text(event, "time")).collect()
        };
        let alarms = own("opening-tonight");
        assert_eq!(alarms.len(), 1, "{bench}: {alarms:?}, cracked {crack}");
        assert!(
            alarms[0] >= crack.to_string() && alarms[0] <= full.to_string(),
            "{bench}: {alarms:?}, {crack} to {full}"
        );
        for kind in ["bud-seen", "full-open", "closed"] {
            assert_eq!(own(kind).len(), 1, "{bench}: {kind} {:?}", own(kind));
        }
        assert!((30..70).contains(&own("morning").len()), "{bench}: {} mornings", own("morning").len());
    }
}

#[test]
fn a_year_of_a_house_holds_its_memory_and_tells_the_same_twice() {
    let long = std::env::var_os("ANTHESISD_LONG").is_some();
    let year = if long { Year::new(40, 365) } else { Year::new(20, 80) };
    let house = year.house();
    let told = replayed(&year, &house);
    as_the_plants_gave_them(&year, &told);

    // and through the service, with its store, over a pipe
    let house = house.with_recording("pipe");
    let pipe = house.path("pipe");
    mknodat(CWD, &pipe, FileType::Fifo, Mode::RUSR | Mode::WUSR, 0).expect("a pipe can be made");
    let service = Service::start(&house);
    let writer = OpenOptions::new().write(true).open(&pipe).expect("the pipe can be opened");
    let watched = writer.try_clone().expect("a second handle");
    let drained =
        || eventually("the pipe is read", || ioctl_fionread(&watched).is_ok_and(|bytes| bytes == 0));
    // half the benches bring half of what fills the store's cache in a day
    let filled_on = if long { 1 } else { 7 };
    let (mut filled, mut kib) = (0, Vec::new());
    year.write(BufWriter::new(writer), |day| {
        if day == 1 || day == 7 || day % 30 == 0 {
            drained();
            if day == filled_on {
                // the first look through the record opens the file a second time, ten seconds of the machine's own after the start
                service.wait_for_log("the record was looked through");
                filled = service.resident_kib().0;
            }
            kib.push((day, service.resident_kib().0));
        }
    });
    drained();
    let last = service.resident_kib().0;
    let (status, log) = service.terminate();
    assert!(status.success(), "{log}");
    assert_alike(&house.stored_events(), &told);
    println!(
        "{} benches, {} days: resident KiB by day {kib:?}, {last} at the end",
        year.seasons.len(),
        year.days
    );
    // a bench that opens holds the courses that its opening may take, 32 KiB, and once more as they are written down
    let openings = 2 * 32 * u64::try_from(year.seasons.len()).expect("a number of benches");
    assert!(
        last <= filled + filled / 10 + openings,
        "{filled} KiB when all was filled, {last} after the last day: {kib:?}"
    );
}
