//! `run`: the wiring of the service, its start, and its orderly stop.

use std::path::Path;
use std::sync::Arc;
use std::thread;
use std::time::Duration;

use sd_notify::NotifyState;
use serde_json::json;
use tokio::runtime::Runtime;
use tokio::signal::unix::{SignalKind, signal};
use tokio::sync::{mpsc, watch};
use tokio::task::JoinSet;
use tracing::{info, warn};

use super::check::ways_out;
use super::{Failure, counted, failed, load, site_of};
use crate::clock::{Clock, wall_now};
use crate::config::Config;
use crate::forward::{Forwarder, ForwarderNews, ForwarderSpec};
use crate::intake::{self, IntakeNews, NEWS_WAITING};
use crate::keeper::{Ears, Keeper, KeeperError, Outgoing, Record, Voice, look_through};
use crate::notify::command::{self, Caller, CommandSpec};
use crate::notify::topics::Topics;
use crate::notify::{
    BrokerNews, Channels, Direct, HEARD_WAITING, Heard, Inbox, Pace, Publisher, PublisherSpec, Taken,
};
use crate::page::{House, serve};
use crate::watchdog::{self, Watch, Watchdog};

/// News of the broker that wait for the keeper.
const WAITING_BROKER_NEWS: usize = 64;
/// News of the forwarder that wait for the keeper; while there are so many, nothing is forwarded.
const WAITING_FORWARDER_NEWS: usize = 16;
/// Bookings of the page between two looks; more wait at the page.
const WAITING_BOOKINGS: usize = 16;
/// Intakes end at once, but where a port's driver hangs.
const LINKS_END_WITHIN: Duration = Duration::from_secs(10);
/// The publisher sends what waits for a moment, then its farewell.
const FAREWELLS_END_WITHIN: Duration = Duration::from_secs(8);
/// All that the service waits for has ended by then.
const RUNTIME_ENDS_WITHIN: Duration = Duration::from_secs(2);

/// How a run differs from the service as installed.
#[derive(Debug, Clone)]
pub struct RunOptions {
    /// What time it is.
    pub clock: Arc<Clock>,
    /// Every payload that leaves the house says that it is a rehearsal.
    pub rehearsal: bool,
}

impl RunOptions {
    /// The service as installed: the machine's clock, or the readings' own where nothing but recordings is read.
    pub fn of(config: &Config) -> Self {
        let clock = if reads_recordings_only(config) { Clock::of_readings() } else { Clock::of_machine() };
        Self { clock: Arc::new(clock), rehearsal: false }
    }
}

/// Whether a house is played: its time is then that of its readings.
pub(super) fn reads_recordings_only(config: &Config) -> bool {
    !config.intakes.is_empty() && config.intakes.iter().all(|intake| !intake.is_live())
}

/// What intakes, keeper, and whoever tells people and machines are told to stop by.
#[derive(Debug, Clone, Default)]
struct Stops {
    intakes: watch::Sender<bool>,
    keeper: watch::Sender<bool>,
    telling: watch::Sender<bool>,
}

impl Stops {
    /// While the model is told the record, nothing has been read that is not in it: whoever tells people says farewell, and the
    /// telling of the record is left where it is.
    async fn before_the_start_is_through(&self, signal: &str) -> Result<(), Failure> {
        info!("{signal}: stopping before the start is through");
        watchdog::tell(&[NotifyState::Stopping]);
        for stop in [&self.intakes, &self.keeper, &self.telling] {
            stop.send_replace(true);
        }
        let _ = tokio::time::timeout(FAREWELLS_END_WITHIN, self.telling.closed()).await;
        Ok(())
    }
}

/// The service under way.
#[derive(Debug)]
pub struct Running {
    stops: Stops,
    intakes: JoinSet<()>,
    keeper: thread::JoinHandle<Result<(), KeeperError>>,
    keeper_ended: watch::Receiver<bool>,
    /// Those who tell people and machines: the publisher, the alarm command's task, the forwarder and the page, where they are
    /// configured.
    telling: JoinSet<()>,
    watch: Watch,
}

/// Starts the service on the current runtime.
///
/// # Errors
/// With what, where and what to do: another service watches by the same record, or a thread cannot be started.
pub fn start(config: &Config, options: RunOptions) -> Result<Running, String> {
    try_start(config, options, Stops::default()).map_err(|failure| match failure {
        Failure::Configuration(said) | Failure::Usage(said) | Failure::Failed(said) => said,
    })
}

fn try_start(config: &Config, options: RunOptions, stops: Stops) -> Result<Running, Failure> {
    let RunOptions { clock, rehearsal } = options;
    let since = wall_now();
    let copies = config.readings_to.as_ref().map(|to| ForwarderSpec::new(to, config));
    let record = Record::open(&config.store_path, since, copies.as_ref().map(ForwarderSpec::destination))?;
    let run = record.run();
    info!(run, store = %config.store_path.display(), site = &*config.site.name, "starting");

    let (broker_in, broker_news) = mpsc::channel::<BrokerNews>(WAITING_BROKER_NEWS);
    let (people_in, people_heard) = mpsc::channel::<Heard>(HEARD_WAITING);

    let watch = Watch::new();
    let prefix = config.mqtt.as_ref().map_or("anthesis", |mqtt| &mqtt.prefix);
    let topics = Topics::new(prefix, &config.site.name);
    let mut telling = JoinSet::new();
    let mut outgoing = None;
    if let Some(mqtt) = &config.mqtt {
        let (wake, wakened) = watch::channel(0);
        let (states, state_changes) = watch::channel(Arc::new(Vec::new()));
        let mut down = json!({ "service": "down", "since": since, "run": run });
        if rehearsal {
            down["rehearsal"] = json!(true);
        }
        let mut spec = PublisherSpec::new(mqtt, &topics, down.to_string());
        // one that is over never comes back for what a broker would keep for it
        spec.keep_session = !rehearsal;
        let outbox = record.reader();
        let stop = stops.telling.subscribe();
        let direct = Direct::default();
        let taken = Taken::default();
        let channels = Channels {
            rows: wakened,
            states: state_changes,
            direct: direct.clone(),
            news: broker_in,
            inbox: Inbox { heard: people_in, taken: taken.clone() },
            stop,
            stage: watch.stage("publisher"),
        };
        telling.spawn(Publisher::new(spec, Pace::default(), outbox, channels).run());
        outgoing = Some(Outgoing { wake, states, direct, taken });
    } else {
        warn!("no [mqtt] in the configuration: alarms go to {} only", ways_out(config));
    }
    let mut caller = None;
    if let Some(command) = &config.alarm.command {
        let spec = CommandSpec::new(command.clone(), config.mqtt.is_some());
        let new = caller.insert(Caller::new(&spec));
        telling.spawn(command::run(
            spec,
            new.clone(),
            stops.telling.subscribe(),
            watch.stage("alarm command"),
        ));
    }
    let (forwarder_in, forwarder_news) = mpsc::channel::<ForwarderNews>(WAITING_FORWARDER_NEWS);
    if let Some(spec) = copies {
        let reader = record.reader();
        let forwarder =
            Forwarder::new(spec, Arc::clone(&clock), reader, forwarder_in, stops.telling.subscribe());
        let runtime = tokio::runtime::Handle::current();
        // a thread of its own: it reads long stretches of the record
        telling.spawn_blocking(move || runtime.block_on(forwarder.run()));
    }

    let voice = Voice::new(topics, outgoing, caller, run, since, rehearsal);
    let (bookings_in, bookings) = mpsc::channel(WAITING_BOOKINGS);
    if let Some(page) = &config.page {
        let house = House::new(config, page, Arc::clone(&clock), voice.facts(), bookings_in, watch.clone());
        let (house, listen) = (house.map_err(Failure::Configuration)?, page.listen);
        let stop = stops.telling.subscribe();
        telling.spawn_blocking(move || serve(house, listen, stop));
    }
    let watches = config.intakes.iter().map(intake::watched).collect();
    let (looking, look) = look_through(config.store_path.clone(), stops.telling.subscribe());
    let runtime = tokio::runtime::Handle::current();
    // a thread of its own: it reads the whole of the record, slowly
    telling.spawn_blocking(move || look(runtime));
    let keeper = Keeper::take_up(
        record,
        site_of(config),
        Arc::clone(&clock),
        voice,
        watches,
        config.alarm.test_every_days,
    )
    .map_err(failed)?
    .with_looks(looking);

    let (intakes_in, intake_news) = mpsc::channel::<IntakeNews>(NEWS_WAITING);
    let benches = config.benches.iter().map(|bench| &*bench.spec.id);
    let intakes =
        intake::start(&config.intakes, benches, &clock, &intakes_in, &stops.intakes.subscribe(), &watch);

    let (ended, keeper_ended) = watch::channel(false);
    let runtime = tokio::runtime::Handle::current();
    let (keepers_watch, keeper_stop) = (watch.clone(), stops.keeper.subscribe());
    let keeper = thread::Builder::new()
        .name("keeper".to_owned())
        .spawn(move || {
            // dropped at the end, however it comes: whoever waits learns of it
            let _ended = ended;
            let ears = Ears {
                intakes: intake_news,
                broker: broker_news,
                people: people_heard,
                bookings,
                forwarder: forwarder_news,
            };
            runtime.block_on(keeper.work(ears, keeper_stop, &keepers_watch))
        })
        .map_err(failed)?;
    Ok(Running { stops, intakes, keeper, keeper_ended, telling, watch })
}

impl Running {
    /// Waits for the keeper to end by itself, which it does only when it fails.
    pub async fn ended(&mut self) {
        let _ = self.keeper_ended.wait_for(|ended| *ended).await;
    }

    /// Stops in the order in which data flows: intakes, then the keeper when it has written what they brought, then the
    /// publisher, which says farewell, and the alarm command.
    ///
    /// # Errors
    /// If the last of the readings could not be written.
    pub async fn stop(mut self) -> Result<(), String> {
        self.stops.intakes.send_replace(true);
        // a driver that hangs while its port is opened, or an intake that broke off, keeps nobody from writing what there is
        let all_ended = async { while self.intakes.join_next().await.is_some() {} };
        if tokio::time::timeout(LINKS_END_WITHIN, all_ended).await.is_err() {
            warn!("a port does not let go: its driver hangs. The record is written all the same");
        }
        self.stops.keeper.send_replace(true);
        let keeper = tokio::task::spawn_blocking(move || self.keeper.join());
        let outcome = match keeper.await {
            Ok(Ok(outcome)) => outcome.map_err(|error| error.to_string()),
            Ok(Err(_)) | Err(_) => Err("the keeper broke off: see the log above".to_owned()),
        };
        self.stops.telling.send_replace(true);
        while self.telling.join_next().await.is_some() {}
        outcome
    }
}

/// `anthesisd run`.
pub(super) fn run(path: &Path) -> Result<(), Failure> {
    let config = load(path)?;
    let runtime = Runtime::new().map_err(failed)?;
    let outcome = runtime.block_on(async {
        let mut terminate = signal(SignalKind::terminate()).map_err(failed)?;
        let mut interrupt = signal(SignalKind::interrupt()).map_err(failed)?;
        let mut hang_up = signal(SignalKind::hangup()).map_err(failed)?;
        let benches = counted(config.benches.len(), "bench", "benches");
        let intakes = counted(config.intakes.len(), "intake", "intakes");
        let stops = Stops::default();
        let options = RunOptions::of(&config);
        let stops_of_start = stops.clone();
        // a start may tell the model a record of years: off the threads that hear signals
        let mut starting = tokio::task::spawn_blocking(move || try_start(&config, options, stops_of_start));
        let mut running = loop {
            tokio::select! {
                biased;
                started = &mut starting => break started.map_err(failed)??,
                _ = terminate.recv() => return stops.before_the_start_is_through("SIGTERM").await,
                _ = interrupt.recv() => return stops.before_the_start_is_through("SIGINT").await,
                _ = hang_up.recv() => goes_on(),
            }
        };
        let status = format!("watches {benches} by {intakes}");
        let _watchdog = Watchdog::start(running.watch.clone(), status).map_err(failed)?;
        loop {
            tokio::select! {
                _ = terminate.recv() => info!("SIGTERM: stopping"),
                _ = interrupt.recv() => info!("SIGINT: stopping"),
                _ = hang_up.recv() => {
                    goes_on();
                    continue;
                }
                () = running.ended() => {}
            }
            break;
        }
        watchdog::tell(&[NotifyState::Stopping]);
        running.stop().await.map_err(Failure::Failed)
    });
    // a port's driver may hang in a thread of its own
    runtime.shutdown_timeout(RUNTIME_ENDS_WITHIN);
    outcome
}

/// A terminal was closed, or somebody wants the configuration read again.
fn goes_on() {
    warn!(
        "SIGHUP: the watch goes on with the configuration that it has; restart it for another (`check` reads it first)"
    );
}
