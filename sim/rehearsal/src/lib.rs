//! A whole bloom against the real service: benches on pseudo-terminals, store and broker are real, time is not.

mod arguments;
mod audience;
mod broker;
mod cast;
mod house;
mod inbox;
mod phone;
mod player;
mod screen;
mod verdict;
mod warnings;

use std::fs::File;
use std::io;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use anthesisd::clock::Clock;
use anthesisd::command::{RunOptions, Running, start};
use tokio::signal::unix::{Signal, SignalKind, signal};
use tokio::task::JoinHandle;

pub use arguments::{Arguments, definition};
use audience::Audience;
use bench_sim::pty::Port;
use bench_sim::recording::write_truth;
use bench_sim::season::Season;
use cast::Cast;
pub use house::{House, OwnBroker};
use phone::Heard;
use player::{Played, Tempo};
use screen::Screen;
use verdict::Verdict;
pub use warnings::warnings;

/// Played this fast, a bench whose bytes wait a moment lags by hours; only one that really stops is to count as silent.
const SILENT_AFTER_MIN: u32 = 240;
/// What is not heard this long after the last reading was taken does not come.
const LAST_WORDS: Duration = Duration::from_secs(30);
/// How often the progress is looked at.
const REDRAW_EVERY: Duration = Duration::from_millis(100);

/// How to rehearse.
#[derive(Debug)]
pub struct Rehearsal {
    /// The grower's broker, if that is to be used.
    pub own: OwnBroker,
    /// Keeps service and broker alive at the end, until it is interrupted.
    pub hold: bool,
    /// Without pauses to read.
    pub quick: bool,
}

impl Rehearsal {
    /// Plays it, in a folder that was made for it.
    ///
    /// # Errors
    /// With what went wrong: the rehearsal could not be played, or did not go as it must.
    pub async fn play(&self, house: &House) -> Result<(), String> {
        let cast = Arc::new(Cast::draw()?);
        let port = if self.own.url.is_some() { 0 } else { broker::start().map_err(said)? };
        let ports = cast.benches.iter().map(|bench| house.open_port(bench.id()));
        let ports = ports.collect::<io::Result<Vec<Port>>>().map_err(said)?;
        let config = house.configure(&self.own, port, SILENT_AFTER_MIN, &cast.configuration())?;
        let seasons: Vec<Season> = cast.benches.iter().map(|bench| bench.season.clone()).collect();
        File::create(house.truth_path()).and_then(|file| write_truth(&seasons, file)).map_err(said)?;

        let audience = Audience::gather(&config, &self.own).await?;
        let screen = Screen::new();
        introduce(&screen, &cast, &audience)?;

        let clock = Arc::new(Clock::of_readings());
        clock.hear(cast.start().plus_hours(-1.0));
        let stop = Arc::new(AtomicBool::new(false));
        let mut stage = Stage {
            calls: Calls::listen().map_err(said)?,
            running: start(&config, RunOptions { clock: Arc::clone(&clock), rehearsal: true })?,
            player: self.send_in(&cast, ports, &clock, house, &stop),
            ports: Vec::new(),
            verdict: Verdict::new(
                cast.opening.clone(),
                cast.slows_from(),
                audience.base.clone(),
                cast.other_messages_allowed(),
            ),
            audience,
            clock,
            screen,
        };
        let mut outcome = stage.play(&cast, house).await;
        if self.hold && outcome.is_ok() {
            outcome = stage.hold().await;
        }
        stop.store(true, Ordering::Relaxed);
        let stopped = stage.running.stop().await;
        let benches: Vec<&str> = cast.benches.iter().map(cast::Bench::id).collect();
        stage.audience.leave(&benches).await;
        outcome.and(stopped)
    }

    fn send_in(
        &self,
        cast: &Arc<Cast>,
        ports: Vec<Port>,
        clock: &Arc<Clock>,
        house: &House,
        stop: &Arc<AtomicBool>,
    ) -> JoinHandle<Result<Played, String>> {
        let tempo = if self.quick { Tempo::without_pauses() } else { Tempo::to_be_read(cast) };
        let (cast, clock, stop) = (Arc::clone(cast), Arc::clone(clock), Arc::clone(stop));
        let recording = house.recording_path();
        tokio::task::spawn_blocking(move || player::play(&cast, ports, &clock, &tempo, &recording, &stop))
    }
}

fn introduce(screen: &Screen, cast: &Cast, audience: &Audience) -> Result<(), String> {
    let benches = cast.benches.iter();
    let roles: Vec<String> =
        benches.map(|bench| format!("{} ({}), {}", bench.id(), bench.plant, bench.role)).collect();
    screen.line(&format!("Three virtual benches: {}.", roles.join("; ")))?;
    screen.line(&audience.how_to_listen)?;
    screen.line(
        "What a phone gets, in local time. Morning bulletins come daily; shown are Monday's, and all of the bud that opens \
         once it has slowed.\nLines with dots are no messages: they say how tall the plants really are.\n",
    )
}

/// Whoever calls the rehearsal off: Ctrl-C, or the system.
struct Calls {
    interrupt: Signal,
    terminate: Signal,
}

impl Calls {
    fn listen() -> io::Result<Self> {
        Ok(Self { interrupt: signal(SignalKind::interrupt())?, terminate: signal(SignalKind::terminate())? })
    }

    /// Waits to be called off, and says by what.
    async fn off(&mut self) -> &'static str {
        tokio::select! {
            _ = self.interrupt.recv() => "interrupted",
            _ = self.terminate.recv() => "told to stop",
        }
    }
}

/// What is under way.
struct Stage {
    calls: Calls,
    running: Running,
    player: JoinHandle<Result<Played, String>>,
    /// Kept until the service has stopped: a port that goes is a cable that is pulled.
    ports: Vec<Port>,
    audience: Audience,
    clock: Arc<Clock>,
    screen: Screen,
    verdict: Verdict,
}

impl Stage {
    /// Shows what is heard until all is played and told, and says how it went.
    async fn play(&mut self, cast: &Cast, house: &House) -> Result<(), String> {
        let mut redraw = tokio::time::interval(REDRAW_EVERY);
        let mut played = None;
        loop {
            tokio::select! {
                why = self.calls.off() => return self.broken_off(why),
                () = self.running.ended() => return self.broken_off("the service has ended"),
                heard = self.audience.phone.next() => self.take(heard).await?,
                done = &mut self.player, if played.is_none() => {
                    let done = done.map_err(|error| error.to_string()).flatten();
                    match done {
                        Ok(Played { packs, ports }) => {
                            self.ports = ports;
                            played = Some((packs, Instant::now()));
                        }
                        Err(why) => return self.broken_off(&why),
                    }
                }
                _ = redraw.tick() => self.show_progress(cast)?,
            }
            if let Some((packs, since)) = played
                && (self.verdict.is_complete() || since.elapsed() > LAST_WORDS)
            {
                self.screen.end_progress()?;
                return self.close(house, packs);
            }
        }
    }

    fn broken_off(&mut self, why: &str) -> Result<(), String> {
        self.screen.end_progress()?;
        Err(why.to_owned())
    }

    /// Shows a message, and takes note of an alarm as a person would.
    async fn take(&mut self, heard: Option<Heard>) -> Result<(), String> {
        let told = self.verdict.hear(&heard.ok_or("the listener has ended")?);
        if let Some(line) = told.line {
            self.screen.line(&line)?;
        }
        if let Some((topic, payload)) = told.note {
            self.screen.line(&format!("    taken note of, as you would: {topic} {payload}"))?;
            self.audience.phone.publish(topic, payload, false).await?;
        }
        Ok(())
    }

    fn show_progress(&mut self, cast: &Cast) -> Result<(), String> {
        let now = self.clock.now();
        let heights = cast.benches.iter().filter(|bench| bench.season.truth().start <= now);
        let heights: Vec<String> =
            heights.map(|bench| format!("{} {:.2} m", bench.id(), bench.season.height_m(now))).collect();
        let messages = self.verdict.messages();
        self.screen.progress(&format!(
            "{}  ...  {}; {messages} messages",
            inbox::local(now),
            heights.join(", ")
        ))
    }

    fn close(&self, house: &House, packs: u64) -> Result<(), String> {
        let outcome = self.verdict.close();
        if let Ok(well) = &outcome {
            self.screen.line(&format!("\n{well}"))?;
        }
        self.screen.line(&format!(
            "\nstore          {}\nrecording      {} ({packs} packs)\ntruth          {}\nconfiguration  {}\nlog            \
             {}",
            house.store_path().display(),
            house.recording_path().display(),
            house.truth_path().display(),
            house.config_path().display(),
            house.log_path().display()
        ))?;
        outcome.map(drop)
    }

    /// Shows what is heard until somebody ends it.
    async fn hold(&mut self) -> Result<(), String> {
        self.screen.line("\nService and broker stay up. Ctrl-C ends them.")?;
        loop {
            tokio::select! {
                _ = self.calls.off() => return Ok(()),
                () = self.running.ended() => return Err("the service has ended".to_owned()),
                heard = self.audience.phone.next() => self.take(heard).await?,
            }
        }
    }
}

fn said(error: io::Error) -> String {
    error.to_string()
}
