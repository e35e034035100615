//! Where readings come in. One task for each intake reads bytes, cuts them into lines, turns lines into readings and sends them on.
//!
//! An intake that stays away, babbles or is slow holds up nothing but itself: it waits with growing patience, refuses what it
//! cannot understand line by line, and is held back by the bounded channel when its readings are not taken.

pub mod decoder;
mod feed;
pub mod lines;
pub mod recording;
pub mod senml;
mod serial;
mod stamp;
pub mod trouble;

use std::sync::Arc;

use bloom_model::reading::Reading;
use bloom_model::watch::Intake;
use tokio::sync::{mpsc, watch};
use tokio::task::JoinSet;

use crate::clock::Clock;
use crate::config::IntakeConfig;
use crate::watchdog::Watch;
use decoder::Decoder;
use feed::Feed;

/// How many pieces of news may wait in the channel from the intakes; an intake with more waits itself.
pub const NEWS_WAITING: usize = 64;

/// What an intake has to say. `intake` is its place in the configuration.
#[derive(Debug, Clone, PartialEq)]
pub enum IntakeNews {
    /// Readings came in, in the order of their lines. At most those of 16 KiB and one line at once.
    Readings {
        /// From which intake.
        intake: usize,
        /// What came.
        readings: Vec<Reading>,
        /// How many lines and records were refused beside them.
        refused: u64,
    },
    /// A line was understood, for the first time or the first time since the intake was down.
    Up {
        /// Which intake.
        intake: usize,
    },
    /// The intake cannot be read. Said once until it is up again; the intake goes on trying.
    Down {
        /// Which intake.
        intake: usize,
        /// What happened, and what to do.
        why: String,
    },
    /// A recording was read to its end.
    Ended {
        /// Which intake.
        intake: usize,
    },
}

/// Starts a task for each intake. They end when `stop` turns true or is dropped, or when nobody receives `news`.
///
/// `benches` are the bench ids in the order of the configuration.
pub fn start<'a>(
    intakes: &[IntakeConfig],
    benches: impl IntoIterator<Item = &'a str>,
    clock: &Arc<Clock>,
    news: &mpsc::Sender<IntakeNews>,
    stop: &watch::Receiver<bool>,
    watch: &Watch,
) -> JoinSet<()> {
    let decoder = Decoder::new(benches);
    let mut tasks = JoinSet::new();
    for (intake, configured) in intakes.iter().cloned().enumerate() {
        let (decoder, news, stop) = (decoder.clone(), news.clone(), stop.clone());
        let name = configured.source().display().to_string();
        let stage = watch.stage(format!("intake {name}"));
        let feed = Feed::new(intake, name, decoder, news, stop, stage);
        match configured {
            IntakeConfig::Serial { port, baud } => {
                tasks.spawn(serial::run(feed, port, baud, Arc::clone(clock)));
            }
            IntakeConfig::Recording { path } => {
                tasks.spawn(recording::run(feed, path));
            }
        }
    }
    tasks
}

/// Tries a source once, for `check`, and says how it is.
///
/// # Errors
/// With what is wrong and what to do.
pub async fn try_once(configured: &IntakeConfig) -> Result<String, String> {
    match configured {
        IntakeConfig::Serial { port, baud } => serial::try_once(port, *baud).await,
        IntakeConfig::Recording { path } => recording::try_once(path),
    }
}

/// An intake as the watch over the house knows it.
pub fn watched(configured: &IntakeConfig) -> Intake {
    let name = configured.source().display().to_string();
    if configured.is_live() { Intake::of_line(name) } else { Intake::of_recording(name) }
}
