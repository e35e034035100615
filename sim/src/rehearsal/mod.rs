//! A whole bloom against the real service: benches on pseudo-terminals, store and broker are real, time is not.

mod cast;
mod house;
mod phone;
mod player;
mod screen;
mod verdict;

use std::fs::File;
use std::io;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use anthesisd::clock::Clock;
use anthesisd::command::{RunOptions, Running, start};
use anthesisd::config::MqttConfig;
use anthesisd::notify::topics::Topics;
use anthesisd::notify::{PublisherSpec, try_broker};
use tokio::signal::unix::{Signal, SignalKind, signal};
use tokio::task::JoinHandle;

use crate::broker;
use crate::pty::Port;
use crate::recording::write_truth;
use crate::season::Season;
use cast::Cast;
pub use house::{House, OwnBroker};
use phone::{Heard, Phone};
use player::{Played, Tempo};
use screen::Screen;
use verdict::Verdict;

/// How long a broker may take to let us in.
const BROKER_PATIENCE: Duration = Duration::from_secs(10);
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
        let ports = house.open_ports(&cast).map_err(said)?;
        let config = house.configure(&cast, &self.own, port)?;
        let mqtt = config.mqtt.as_ref().ok_or("the rehearsal's configuration has no broker")?;
        let seasons: Vec<Season> = cast.benches.iter().map(|bench| bench.season.clone()).collect();
        File::create(house.truth_path()).and_then(|file| write_truth(&seasons, file)).map_err(said)?;

        let topics = Topics::new(&mqtt.prefix, &config.site.name);
        let base = format!("{}/{}/", mqtt.prefix, config.site.name);
        if self.own.url.is_some() {
            try_broker(&PublisherSpec::new(mqtt, &topics, String::new()), BROKER_PATIENCE).await?;
        }
        let phone = Phone::listen(mqtt, &format!("{base}#")).await?;
        let screen = Screen::new();
        self.introduce(&screen, &cast, mqtt, &base)?;

        let clock = Arc::new(Clock::of_readings());
        clock.hear(cast.start().plus_hours(-1.0));
        let stop = Arc::new(AtomicBool::new(false));
        let mut stage = Stage {
            interrupt: signal(SignalKind::interrupt()).map_err(said)?,
            terminate: signal(SignalKind::terminate()).map_err(said)?,
            running: start(&config, RunOptions { clock: Arc::clone(&clock), rehearsal: true })?,
            player: self.send_in(&cast, ports, &clock, house, &stop),
            ports: Vec::new(),
            phone,
            clock,
            screen,
            verdict: Verdict::new(cast.opening.clone(), base),
        };
        let mut outcome = stage.play(&cast, house).await;
        if self.hold && outcome.is_ok() {
            outcome = stage.hold().await;
        }
        stop.store(true, Ordering::Relaxed);
        let stopped = stage.running.stop().await;
        if self.own.url.is_some() {
            stage.phone.clear(retained(&topics, &cast)).await;
        }
        stage.phone.leave().await;
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

    fn introduce(&self, screen: &Screen, cast: &Cast, mqtt: &MqttConfig, base: &str) -> Result<(), String> {
        let benches = cast.benches.iter();
        let roles: Vec<String> =
            benches.map(|bench| format!("{} ({}), {}", bench.id(), bench.plant, bench.role)).collect();
        let whom = if self.own.url.is_some() { ", your phone's too" } else { "" };
        screen.line(&format!("Three virtual benches: {}.", roles.join("; ")))?;
        screen.line(&format!("Any MQTT client can listen in{whom}:\n"))?;
        screen.line(&format!("    mosquitto_sub -h {} -p {} -v -t '{base}#'\n", mqtt.host, mqtt.port))?;
        screen.line(
            "What a phone gets, in local time. Morning bulletins come daily; shown are Monday's, and all of the bud that \
             opens once it has slowed.\nLines with dots are no messages: they say how tall the plants really are.\n",
        )
    }
}

/// What is under way.
struct Stage {
    interrupt: Signal,
    terminate: Signal,
    running: Running,
    player: JoinHandle<Result<Played, String>>,
    /// Kept until the service has stopped: a port that goes is a cable that is pulled.
    ports: Vec<Port>,
    phone: Phone,
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
                _ = self.interrupt.recv() => return self.broken_off("interrupted"),
                _ = self.terminate.recv() => return self.broken_off("told to stop"),
                () = self.running.ended() => return self.broken_off("the service has ended"),
                heard = self.phone.next() => self.take(heard).await?,
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
            self.phone.publish(topic, payload, false).await?;
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
            verdict::local(now),
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
                _ = self.interrupt.recv() => return Ok(()),
                _ = self.terminate.recv() => return Ok(()),
                () = self.running.ended() => return Err("the service has ended".to_owned()),
                heard = self.phone.next() => self.take(heard).await?,
            }
        }
    }
}

/// Every topic under which the service leaves something at the broker.
fn retained(topics: &Topics, cast: &Cast) -> Vec<String> {
    let benches =
        cast.benches.iter().flat_map(|bench| [topics.alarm(Some(bench.id())), topics.state(bench.id())]);
    benches.chain([topics.alarm(None), topics.daemon()]).collect()
}

fn said(error: io::Error) -> String {
    error.to_string()
}
