use crate::intake::IntakeNews;
use std::io::Write;

use bloom_model::quantity::Quantity;
use bloom_model::reading::Observed;
use bloom_model::time::Time;
use tokio::sync::{mpsc, watch};
use tokio::task::JoinSet;

use super::*;
use crate::clock::Clock;
use crate::config::IntakeConfig;

/// Each wait is for something that must come; the limit only ends a test that would hang.
const LIMIT: Duration = Duration::from_secs(30);

fn line(second: u32, metres: f64) -> String {
    format!(
        "[{{\"bn\":\"east-3/\",\"bt\":{},\"n\":\"tip-range\",\"u\":\"m\",\"v\":{metres}}}]\n",
        1_780_300_800 + second
    )
}

fn start(path: &Path, waiting: usize) -> (mpsc::Receiver<IntakeNews>, watch::Sender<bool>, JoinSet<()>) {
    let (news, received) = mpsc::channel(waiting);
    let (stop, stopping) = watch::channel(false);
    let intakes = [IntakeConfig::Recording { path: path.to_owned() }];
    let clock = std::sync::Arc::new(Clock::of_readings());
    let tasks =
        crate::intake::start(&intakes, ["east-3"], &clock, &news, &stopping, &crate::watchdog::Watch::new());
    (received, stop, tasks)
}

async fn next(news: &mut mpsc::Receiver<IntakeNews>) -> IntakeNews {
    tokio::time::timeout(LIMIT, news.recv()).await.unwrap().unwrap()
}

async fn next_values(news: &mut mpsc::Receiver<IntakeNews>) -> (Vec<f64>, u64) {
    match next(news).await {
        IntakeNews::Readings { readings, refused, .. } => {
            let values = readings.iter().map(|reading| match reading.observed {
                Observed::Value(Quantity::TipRange, value) => value,
                other => panic!("{other:?}"),
            });
            (values.collect(), refused)
        }
        other => panic!("{other:?}"),
    }
}

#[test]
fn commands_read_a_recording_line_by_line() {
    let text =
        format!("{}\n?\n[{{\"n\":\"east-3/tip-range\",\"v\":1}}]\n{}", line(0, 1.0), line(1, 2.0).trim_end());
    let mut decoder = Decoder::new(["east-3"]);
    let mut seen = Vec::new();
    let reader = BufReader::with_capacity(7, text.as_bytes());
    read_recording(reader, &mut decoder, |readings, refused| {
        let refused: Vec<_> = refused.iter().map(|refusal| refusal.line).collect();
        seen.push((readings.iter().map(|reading| reading.time).collect::<Vec<_>>(), refused));
    })
    .unwrap();
    let at = |seconds| Time::from_unix_s(f64::from(1_780_300_800 + seconds)).unwrap();
    assert_eq!(seen, [(vec![at(0)], vec![]), (vec![], vec![3]), (vec![], vec![4]), (vec![at(1)], vec![])]);
    assert_eq!(decoder.counts().refused, 2);
}

#[test]
fn a_missing_recording_is_named() {
    let error = open_recording(Path::new("/nowhere/east-3.jsonl")).err().unwrap().to_string();
    assert!(error.contains("/nowhere/east-3.jsonl"), "{error}");
}

#[tokio::test]
async fn a_file_is_read_in_order_to_its_end_and_the_intake_is_over() {
    let mut file = tempfile::NamedTempFile::new().unwrap();
    for second in 0..2_000 {
        file.write_all(line(second, 1.0 + f64::from(second) / 1000.0).as_bytes()).unwrap();
    }
    file.write_all(b"not a pack").unwrap();
    // one piece of news may wait: the intake is held back again and again, and loses nothing
    let (mut news, _stop, mut tasks) = start(file.path(), 1);
    assert_eq!(next(&mut news).await, IntakeNews::Up { intake: 0 });
    let mut all = Vec::new();
    while all.len() < 2_000 {
        let (values, refused) = next_values(&mut news).await;
        assert_eq!(refused, 0);
        all.extend(values);
    }
    assert_eq!(all.len(), 2_000);
    assert!(all.is_sorted());
    assert_eq!(next_values(&mut news).await, (vec![], 1));
    assert_eq!(next(&mut news).await, IntakeNews::Ended { intake: 0 });
    tasks.join_next().await.unwrap().unwrap();
}

#[tokio::test]
async fn a_pipe_waits_for_its_next_writer() {
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join("pipe");
    rustix::fs::mkfifoat(rustix::fs::CWD, &path, rustix::fs::Mode::RUSR | rustix::fs::Mode::WUSR).unwrap();
    let (mut news, stop, mut tasks) = start(&path, 8);
    let write = |text: String| {
        let path = path.clone();
        // opening a pipe to write waits for its reader
        tokio::task::spawn_blocking(move || std::fs::write(path, text).unwrap())
    };
    write(line(0, 1.0)).await.unwrap();
    assert_eq!(next(&mut news).await, IntakeNews::Up { intake: 0 });
    assert_eq!(next_values(&mut news).await, (vec![1.0], 0));
    // the line that a writer leaves without an end is refused once the writer is gone, not glued to the next writer's first;
    // whoever writes before that end was read is, to a pipe, the same writer still
    write(line(1, 2.0) + "[{\"bn\":\"east").await.unwrap();
    let (mut values, mut refused) = (vec![], 0);
    while refused < 1 {
        let (more, more_refused) = next_values(&mut news).await;
        values.extend(more);
        refused += more_refused;
    }
    assert_eq!((values, refused), (vec![2.0], 1));
    write(line(2, 3.0).trim_end().to_owned()).await.unwrap();
    assert_eq!(next_values(&mut news).await, (vec![3.0], 0));
    stop.send(true).unwrap();
    tokio::time::timeout(LIMIT, tasks.join_next()).await.unwrap().unwrap().unwrap();
}

#[tokio::test]
async fn a_recording_that_is_missing_is_waited_for() {
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join("east-3.jsonl");
    let (mut news, _stop, _tasks) = start(&path, 8);
    let IntakeNews::Down { intake: 0, why } = next(&mut news).await else { panic!() };
    assert!(why.contains("cannot be read: No such file"), "{why}");
    std::fs::write(&path, line(0, 1.0)).unwrap();
    assert_eq!(next(&mut news).await, IntakeNews::Up { intake: 0 });
    assert_eq!(next_values(&mut news).await, (vec![1.0], 0));
    assert_eq!(next(&mut news).await, IntakeNews::Ended { intake: 0 });
}

#[tokio::test]
async fn an_intake_whose_readings_nobody_takes_is_noticed() {
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join("recording.jsonl");
    std::fs::write(&path, (0..5_000).map(|second| line(second, 1.0)).collect::<String>()).unwrap();
    let (news, mut received) = mpsc::channel(1);
    let (_stop, stopping) = watch::channel(false);
    let intakes = [IntakeConfig::Recording { path: path.clone() }];
    let clock = std::sync::Arc::new(Clock::of_readings());
    let watched = crate::watchdog::Watch::with_interval(Duration::from_millis(150));
    let tasks = crate::intake::start(&intakes, ["east-3"], &clock, &news, &stopping, &watched);
    let overdue = || watched.overdue(std::time::Instant::now());
    let began = std::time::Instant::now();
    while overdue() != [format!("intake {}", path.display())] {
        assert!(began.elapsed() < LIMIT, "it waits for a place in the channel and is not overdue");
        tokio::time::sleep(Duration::from_millis(5)).await;
    }
    drop(news);
    while received.recv().await.is_some() {}
    tasks.join_all().await;
    assert!(overdue().is_empty(), "a recording that was read to its end is no trouble");
}
