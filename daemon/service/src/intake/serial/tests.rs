use crate::intake::IntakeNews;
use std::fs::File;
use std::io::Write;
use std::time::Duration;

use bloom_model::quantity::Quantity;
use bloom_model::reading::Observed;
use bloom_model::time::Time;
use chrono::TimeDelta;
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use tokio::sync::{mpsc, watch};
use tokio::task::JoinSet;

use super::*;
use crate::config::IntakeConfig;

/// Each wait is for something that must come; the limit only ends a test that would hang.
const LIMIT: Duration = Duration::from_secs(30);

/// The far end of a line, plugged in under a name that stays.
struct Cable(File);

impl Cable {
    fn plug_in(name: &Path) -> Self {
        let far = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).unwrap();
        grantpt(&far).unwrap();
        unlockpt(&far).unwrap();
        let device = ptsname(&far, Vec::new()).unwrap().into_string().unwrap();
        let _ = std::fs::remove_file(name);
        std::os::unix::fs::symlink(device, name).unwrap();
        Self(File::from(far))
    }

    fn say(&mut self, text: &[u8]) {
        self.0.write_all(text).unwrap();
    }

    /// Says a line again and again until the daemon has opened the port and read one; says how many were read by then.
    async fn say_until_read(&mut self, text: &[u8], news: &mut mpsc::Receiver<IntakeNews>) -> IntakeNews {
        let began = std::time::Instant::now();
        loop {
            self.say(text);
            match tokio::time::timeout(Duration::from_millis(50), news.recv()).await {
                Ok(received) => return received.unwrap(),
                Err(_) => assert!(began.elapsed() < LIMIT, "nothing was read"),
            }
        }
    }
}

struct Line {
    _directory: tempfile::TempDir,
    name: PathBuf,
    news: mpsc::Receiver<IntakeNews>,
    stop: watch::Sender<bool>,
    tasks: JoinSet<()>,
}

fn start(plugged_in: bool, clock: Clock) -> (Line, Option<Cable>) {
    let directory = tempfile::tempdir().unwrap();
    let name = directory.path().join("usb-example");
    let cable = plugged_in.then(|| Cable::plug_in(&name));
    let (news, received) = mpsc::channel(64);
    let (stop, stopping) = watch::channel(false);
    let intakes = [IntakeConfig::Serial { port: name.clone(), baud: 9600 }];
    let tasks = crate::intake::start(
        &intakes,
        ["east-3"],
        &Arc::new(clock),
        &news,
        &stopping,
        &crate::watchdog::Watch::new(),
    );
    (Line { _directory: directory, name, news: received, stop, tasks }, cable)
}

fn pack(metres: f64) -> String {
    format!("[{{\"bn\":\"east-3/\",\"n\":\"tip-range\",\"u\":\"m\",\"v\":{metres}}}]\r\n")
}

impl Line {
    async fn next(&mut self) -> IntakeNews {
        tokio::time::timeout(LIMIT, self.news.recv()).await.unwrap().unwrap()
    }

    /// The readings and refusals up to the reading of `last` metres.
    async fn until(&mut self, last: f64) -> (Vec<f64>, u64) {
        let (mut values, mut refused) = (Vec::new(), 0);
        loop {
            match self.next().await {
                IntakeNews::Readings { readings, refused: more, .. } => {
                    refused += more;
                    values.extend(readings.iter().map(|reading| match reading.observed {
                        Observed::Value(Quantity::TipRange, value) => value,
                        other => panic!("{other:?}"),
                    }));
                }
                IntakeNews::Up { .. } => {}
                other => panic!("{other:?}"),
            }
            if values.contains(&last) {
                return (values, refused);
            }
        }
    }
}

#[tokio::test]
async fn lines_in_pieces_glued_cut_and_garbled_are_told_apart() {
    let (mut line, cable) = start(true, Clock::of_machine());
    let mut cable = cable.unwrap();
    assert_eq!(
        cable.say_until_read(pack(0.5).as_bytes(), &mut line.news).await,
        IntakeNews::Up { intake: 0 }
    );
    line.until(0.5).await;
    let before = Time::from(chrono::Utc::now());
    let whole = pack(1.0);
    let (start, end) = whole.split_at(20);
    cable.say(start.as_bytes());
    // the port is quiet in the middle of a line
    tokio::time::sleep(Duration::from_millis(300)).await;
    cable.say(end.as_bytes());
    cable.say(format!("{}{}", pack(2.0).trim_end(), pack(3.0)).as_bytes());
    cable.say(&pack(9.0).as_bytes()[..25]);
    cable.say(b"\n\xf0\x80\x00\xe6\x66\x1e\n\n");
    cable.say(pack(4.0).as_bytes());
    let (mut values, refused) = line.until(4.0).await;
    values.retain(|value| *value > 0.5);
    assert_eq!((values, refused), (vec![1.0, 2.0, 3.0, 4.0], 2));
    cable.say(pack(5.0).as_bytes());
    let IntakeNews::Readings { readings, .. } = line.next().await else { panic!() };
    let now = Time::from(chrono::Utc::now());
    assert!(readings.iter().all(|reading| reading.time > before && reading.time <= now));
    line.stop.send(true).unwrap();
    tokio::time::timeout(LIMIT, line.tasks.join_next()).await.unwrap().unwrap().unwrap();
}

#[tokio::test]
async fn a_pulled_cable_is_told_and_comes_back_under_its_name() {
    let (mut line, cable) = start(true, Clock::of_machine());
    let mut cable = cable.unwrap();
    cable.say_until_read(pack(0.5).as_bytes(), &mut line.news).await;
    line.until(0.5).await;
    cable.say(b"[{\"bn\":\"east-3/\",\"n\":\"tip-ra");
    drop(cable);
    let why = loop {
        match line.next().await {
            IntakeNews::Down { why, .. } => break why,
            IntakeNews::Readings { .. } => {}
            other => panic!("{other:?}"),
        }
    };
    assert!(why.contains("the device is gone"), "{why}");
    let mut cable = Cable::plug_in(&line.name);
    // the other half of the line that was cut is no line
    cable.say(b"nge\",\"u\":\"m\",\"v\":7}]\n");
    assert_eq!(
        cable.say_until_read(pack(1.0).as_bytes(), &mut line.news).await,
        IntakeNews::Up { intake: 0 }
    );
    let (values, refused) = line.until(1.0).await;
    assert_eq!((values.first(), refused), (Some(&1.0), 0));
}

#[tokio::test]
async fn a_port_that_is_missing_at_the_start_is_waited_for() {
    let (mut line, _) = start(false, Clock::of_machine());
    let IntakeNews::Down { intake: 0, why } = line.next().await else { panic!() };
    assert!(why.contains("cannot be opened") && why.contains("plug the adapter in"), "{why}");
    let mut cable = Cable::plug_in(&line.name);
    assert_eq!(
        cable.say_until_read(pack(1.0).as_bytes(), &mut line.news).await,
        IntakeNews::Up { intake: 0 }
    );
}

#[tokio::test]
async fn with_the_clock_of_readings_a_line_needs_its_own_time() {
    let (mut line, cable) = start(true, Clock::of_readings());
    let mut cable = cable.unwrap();
    let timed = "[{\"n\":\"east-3/tip-range\",\"v\":1,\"t\":1780300800}]\n";
    cable.say_until_read(timed.as_bytes(), &mut line.news).await;
    line.until(1.0).await;
    cable.say(pack(2.0).as_bytes());
    loop {
        match line.next().await {
            IntakeNews::Readings { readings, refused: 0, .. } => {
                assert!(readings.iter().all(|reading| reading.time == Time::from_unix_ms(1_780_300_800_000)));
            }
            IntakeNews::Readings { refused: 1, .. } => break,
            other => panic!("{other:?}"),
        }
    }
}

#[test]
fn lines_of_one_read_are_stamped_as_they_came() {
    let now = Time::from_unix_ms(1_780_300_800_000);
    let ago = |ms| now - TimeDelta::milliseconds(ms);
    let mut stamper = Stamper::new(ms_a_byte(9600));
    // 96 bytes take 100 ms at 9600 baud
    assert_eq!(stamper.stamp(now, 192), ago(200));
    assert_eq!(stamper.stamp(now, 96), ago(100));
    assert_eq!(stamper.stamp(now, 0), now);
    // a line that seems to have come before the last comes after it, but not after now
    assert_eq!(stamper.stamp(now + TimeDelta::milliseconds(50), 96), now + TimeDelta::milliseconds(1));
    // a clock set back is followed
    assert_eq!(stamper.stamp(ago(60_000), 0), ago(60_000));
}

#[test]
fn the_remedy_follows_the_text() {
    assert!(remedy("Permission denied").contains("group"));
    assert!(remedy("Unable to acquire exclusive lock on serial port").contains("another program"));
    assert!(remedy("No such file or directory").contains("plug"));
}

/// A port of which the `n`-th read fails: once, or from then on until it has been opened so many times.
///
/// The model of these faults: a driver may answer any read with an error; what it had not given by then it gives when it is opened
/// again, in the middle of a line for all that is known.
struct Wire {
    pieces: std::collections::VecDeque<Vec<u8>>,
    reads: u32,
    fails_at: u32,
    opens_until_mended: u32,
    failed: bool,
}

impl AsyncRead for &mut Wire {
    fn poll_read(
        mut self: std::pin::Pin<&mut Self>,
        _: &mut std::task::Context<'_>,
        buffer: &mut tokio::io::ReadBuf<'_>,
    ) -> std::task::Poll<std::io::Result<()>> {
        self.reads += 1;
        if self.reads == self.fails_at || (self.failed && self.opens_until_mended > 0) {
            self.failed = true;
            self.opens_until_mended = self.opens_until_mended.saturating_sub(1);
            return std::task::Poll::Ready(Err(std::io::Error::from(std::io::ErrorKind::BrokenPipe)));
        }
        if let Some(piece) = self.pieces.pop_front() {
            buffer.put_slice(&piece);
        }
        std::task::Poll::Ready(Ok(()))
    }
}

#[tokio::test]
async fn a_read_that_fails_at_any_place_costs_one_line_at_most() {
    const LINES: u32 = 40;
    let text: String = (1..=LINES).map(|number| pack(0.1 + f64::from(number) / 100.0)).collect();
    for opens_until_mended in [0, 5] {
        for fails_at in 1.. {
            // a line is 54 bytes and a piece 80: every place of a line is cut somewhere
            let pieces = text.as_bytes().chunks(80).map(<[u8]>::to_vec).collect();
            let mut wire = Wire { pieces, reads: 0, fails_at, opens_until_mended, failed: false };
            let (news, mut heard) = mpsc::channel(1000);
            let (_stop, stopping) = watch::channel(false);
            let stage = crate::watchdog::Watch::new().stage("line");
            let decoder = crate::intake::decoder::Decoder::new(["east-3"]);
            let mut feed = Feed::new(0, "line".to_owned(), decoder, news, stopping, stage);
            let clock = Clock::of_machine();
            while !wire.pieces.is_empty() {
                feed.begin(wire.reads > 0);
                read_until_gone(&mut wire, &mut feed, 9600, &clock).await.unwrap();
            }
            let (mut came, mut refused_lines) = (0, 0);
            while let Ok(news) = heard.try_recv() {
                if let IntakeNews::Readings { readings, refused, .. } = news {
                    came += readings.len() as u32;
                    refused_lines += refused;
                }
            }
            assert!(
                came >= LINES - 1 && refused_lines == 0,
                "read {fails_at}: {came} of {LINES}, {refused_lines} refused"
            );
            if !wire.failed {
                assert_eq!(came, LINES);
                assert!(fails_at > 25, "{fails_at}");
                break;
            }
        }
    }
}
