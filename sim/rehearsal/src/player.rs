//! Plays the benches over their pseudo-terminals, in step, no faster than the service takes it.

use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::Path;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use anthesisd::clock::Clock;
use bloom_model::time::Time;
use chrono::TimeDelta;

use super::cast::Cast;
use bench_sim::pty::{Port, Sent};
use bench_sim::recording::{Packs, Stamp};

/// The benches run ahead of what the service has taken, and of what it has read of any one of them, by this much of the season at most.
/// A busy machine would otherwise let one line wait for hours of the season, and an opening be found with its start unseen.
const AHEAD: TimeDelta = TimeDelta::minutes(10);
/// A service that takes nothing for so long has failed.
const PATIENCE: Duration = Duration::from_secs(30);
/// How often the service's clock is looked at while it is waited for.
const LOOK_EVERY: Duration = Duration::from_micros(300);
/// How often the very first pack is sent until it is taken: what comes before the service has opened a port is lost.
const KNOCK_EVERY: Duration = Duration::from_millis(100);

/// How many seconds on the wall each stretch of the season takes.
#[derive(Debug)]
pub(super) struct Tempo {
    begin: Time,
    /// The end of each stretch and its seconds; after the last there is no waiting.
    stretches: Vec<(Time, f64)>,
}

impl Tempo {
    /// Quick through the weeks, slow enough on the day of the opening to be read.
    pub(super) fn to_be_read(cast: &Cast) -> Self {
        let opening = &cast.opening;
        let stretches = vec![
            (opening.crack.plus_hours(-72.0), 20.0),
            (opening.crack.plus_hours(-2.0), 7.0),
            (opening.full.plus_hours(1.0), 21.0),
            (opening.full.plus_hours(16.0), 9.0),
            (cast.end(), 4.0),
        ];
        Self { begin: cast.start(), stretches }
    }

    /// As fast as the service takes it.
    pub(super) const fn without_pauses() -> Self {
        Self { begin: Time::from_unix_ms(0), stretches: Vec::new() }
    }

    /// Seconds on the wall from the beginning to that instant.
    fn seconds_until(&self, time: Time) -> f64 {
        let (mut from, mut seconds) = (self.begin, 0.0);
        for (until, takes) in &self.stretches {
            let share = time.hours_since(from) / until.hours_since(from);
            if share <= 1.0 {
                return seconds + takes * share.max(0.0);
            }
            seconds += takes;
            from = *until;
        }
        seconds
    }
}

/// What was played.
#[derive(Debug)]
pub(super) struct Played {
    /// So many packs.
    pub(super) packs: u64,
    /// Over these ports, which are still up.
    pub(super) ports: Vec<Port>,
}

/// Plays to the end, or until `stop` turns true, writing a recording of it.
///
/// # Errors
/// With a sentence: the service takes nothing, a terminal fails, the recording cannot be written.
pub(super) fn play(
    cast: &Cast,
    mut ports: Vec<Port>,
    clock: &Clock,
    tempo: &Tempo,
    recording: &Path,
    stop: &AtomicBool,
) -> Result<Played, String> {
    let unwritten = |error| format!("{} cannot be written: {error}", recording.display());
    let mut file = BufWriter::new(File::create(recording).map_err(unwritten)?);
    let mut benches: Vec<Packs<'_>> =
        cast.benches.iter().map(|bench| Packs::new(&bench.season, Stamp::Season)).collect();
    let mut line = Vec::with_capacity(512);
    let (mut packs, mut last) = (0, cast.start());
    // when the service had last read all of each bench
    let mut read_to = vec![cast.start(); ports.len()];
    // the wall's time at which the season stands where it does; moves back when the service cannot follow
    let mut begun = Instant::now();
    while !stop.load(Ordering::Relaxed) {
        let next = benches
            .iter_mut()
            .enumerate()
            .filter_map(|(place, packs)| packs.peek_time().map(|time| (time, place)))
            .min();
        let Some((time, place)) = next.filter(|(time, _)| *time <= cast.end()) else { break };
        line.clear();
        let (Some(bench), Some(port)) = (benches.get_mut(place), ports.get_mut(place)) else { break };
        if bench.next_line(&mut line).is_none() || !cast.is_played(time) {
            continue;
        }
        file.write_all(&line).map_err(unwritten)?;
        let due = begun + Duration::from_secs_f64(tempo.seconds_until(time));
        match due.checked_duration_since(Instant::now()) {
            Some(wait) => std::thread::sleep(wait),
            None => begun += due.elapsed(),
        }
        send(port, &line)?;
        if packs == 0 {
            let again = || send(port, &line);
            wait_for(clock, time, KNOCK_EVERY, stop, again)?;
            begun = Instant::now();
        }
        (packs, last) = (packs + 1, time);
        wait_for(clock, time - AHEAD, LOOK_EVERY, stop, || Ok(()))?;
        for (port, read_to) in ports.iter().zip(&mut read_to).filter(|(_, read_to)| **read_to < time - AHEAD)
        {
            wait_until_read(port, stop)?;
            *read_to = time;
        }
    }
    wait_for(clock, last, LOOK_EVERY, stop, || Ok(()))?;
    file.flush().map_err(unwritten)?;
    Ok(Played { packs, ports })
}

fn send(port: &mut Port, line: &[u8]) -> Result<(), String> {
    match port.send(line, PATIENCE) {
        Ok(Sent::Whole) => Ok(()),
        Ok(Sent::Dropped) => Err(unread(port)),
        Err(error) => Err(format!("{}: {error}", port.path().display())),
    }
}

/// Waits until the service has read all that was sent over a port.
fn wait_until_read(port: &Port, stop: &AtomicBool) -> Result<(), String> {
    let since = Instant::now();
    while port.unread().map_err(|error| format!("{}: {error}", port.path().display()))? > 0
        && !stop.load(Ordering::Relaxed)
    {
        if since.elapsed() > PATIENCE {
            return Err(unread(port));
        }
        std::thread::sleep(LOOK_EVERY);
    }
    Ok(())
}

fn unread(port: &Port) -> String {
    format!("the service has not read {} for {} s", port.path().display(), PATIENCE.as_secs())
}

/// Waits until the service has taken a reading of that instant, doing something between the looks.
fn wait_for(
    clock: &Clock,
    time: Time,
    look_every: Duration,
    stop: &AtomicBool,
    mut between: impl FnMut() -> Result<(), String>,
) -> Result<(), String> {
    let mut stood = (clock.now(), Instant::now());
    while clock.now() < time && !stop.load(Ordering::Relaxed) {
        if clock.now() > stood.0 {
            stood = (clock.now(), Instant::now());
        } else if stood.1.elapsed() > PATIENCE {
            return Err(format!(
                "the service has taken no reading for {} s since {}",
                PATIENCE.as_secs(),
                stood.0
            ));
        }
        std::thread::sleep(look_every);
        if clock.now() < time {
            between()?;
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use std::io::{BufRead, BufReader};
    use std::sync::atomic::AtomicI64;
    use std::thread;

    use super::*;

    #[test]
    fn the_opening_takes_most_of_a_minute_and_the_weeks_do_not() {
        let cast = Cast::draw().unwrap();
        let tempo = Tempo::to_be_read(&cast);
        assert!(tempo.seconds_until(cast.start()) < 1e-9);
        let whole = tempo.seconds_until(cast.end());
        assert!((45.0..75.0).contains(&whole), "{whole}");
        let opening = tempo.seconds_until(cast.opening.full) - tempo.seconds_until(cast.opening.crack);
        assert!(opening > 10.0, "{opening}");
        let mut last = 0.0;
        for hour in 0..(cast.end().hours_since(cast.start()) as u32) {
            let seconds = tempo.seconds_until(cast.start().plus_hours(f64::from(hour)));
            assert!(seconds >= last, "hour {hour}");
            last = seconds;
        }
        assert!(Tempo::without_pauses().seconds_until(cast.end()) < 1e-9);
    }

    #[test]
    fn a_bench_that_is_read_slowly_does_not_fall_behind_the_others() {
        let cast = Cast::draw().unwrap();
        let folder = tempfile::tempdir().unwrap();
        let port = |name: &str| Port::open(&folder.path().join(name)).unwrap();
        let ports: Vec<Port> = cast.benches.iter().map(|bench| port(bench.id())).collect();
        let (clock, stop) = (Clock::of_readings(), AtomicBool::new(false));
        clock.hear(cast.start().plus_hours(-1.0));
        let all_from = cast.benches.iter().map(|bench| bench.season.truth().start).max().unwrap();
        // the newest reading that was taken of each bench, ms of Unix time
        let taken: Vec<AtomicI64> = ports.iter().map(|_| AtomicI64::new(cast.start().unix_ms())).collect();
        let furthest_behind = AtomicI64::new(0);
        thread::scope(|scope| {
            for (place, port) in ports.iter().enumerate() {
                let lines = BufReader::new(File::open(port.path()).unwrap()).lines();
                let (clock, stop) = (&clock, &stop);
                let (taken, furthest_behind) = (&taken, &furthest_behind);
                scope.spawn(move || {
                    for line in lines.map_while(Result::ok) {
                        // a port that goes may cut its last line
                        let Ok(pack) = serde_json::from_str::<serde_json::Value>(&line) else { break };
                        let time = Time::from_unix_ms((pack[0]["bt"].as_f64().unwrap() * 1e3) as i64);
                        clock.hear(time);
                        taken[place].store(time.unix_ms(), Ordering::Relaxed);
                        if time < all_from {
                            continue;
                        }
                        if place == 0 {
                            thread::sleep(Duration::from_millis(2));
                        } else {
                            let behind = time.unix_ms() - taken[0].load(Ordering::Relaxed);
                            furthest_behind.fetch_max(behind, Ordering::Relaxed);
                        }
                        if time > all_from.plus_hours(48.0) {
                            stop.store(true, Ordering::Relaxed);
                        }
                    }
                });
            }
            let recording = folder.path().join("recording");
            // the ports go with what was played, and their readers end
            drop(play(&cast, ports, &clock, &Tempo::without_pauses(), &recording, &stop).unwrap());
        });
        let behind = TimeDelta::milliseconds(furthest_behind.into_inner());
        assert!(behind > TimeDelta::zero() && behind < TimeDelta::hours(1), "{behind}");
    }
}
