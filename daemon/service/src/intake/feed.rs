//! What every intake does with the bytes it has read.

use std::io;
use std::time::{Duration, Instant};

use tokio::io::{AsyncRead, AsyncReadExt};
use tokio::sync::{mpsc, watch};
use tracing::{info, warn};

use super::IntakeNews;
use super::decoder::{ArrivalTime, Decoder};
use super::lines::Lines;
use super::trouble::{Changes, Troubles};
use crate::clock::Clock;
use crate::watchdog::Stage;

/// Bytes read at once.
const PIECE_BYTES: usize = 16 * 1024;
/// A source that is away is tried again after this at first.
const SHORTEST_PAUSE: Duration = Duration::from_secs(1);
/// It is tried again after no longer than this.
const LONGEST_PAUSE: Duration = Duration::from_secs(30);

/// While the machine's clock is not set, it is looked at this often.
const CLOCK_LOOK: Duration = Duration::from_millis(500);

/// The service stops, or nobody takes readings any more: the intake's task ends.
#[derive(Debug)]
pub(super) struct Stopped;

/// Pauses between tries: 1 s, doubled up to 30 s.
#[derive(Debug)]
pub(super) struct Patience(Duration);

impl Patience {
    pub(super) const fn new() -> Self {
        Self(SHORTEST_PAUSE)
    }

    pub(super) fn next_pause(&mut self) -> Duration {
        let pause = self.0;
        self.0 = (pause * 2).min(LONGEST_PAUSE);
        pause
    }
}

#[derive(Debug, Clone, PartialEq, Eq)]
enum Heard {
    Nothing,
    Up,
    /// With the reason told last.
    Down(String),
}

/// The way from an intake's bytes to its news.
pub(super) struct Feed {
    intake: usize,
    name: String,
    decoder: Decoder,
    lines: Lines,
    troubles: Troubles,
    /// Whether it is there, as it is logged.
    there: Changes,
    news: mpsc::Sender<IntakeNews>,
    stop: watch::Receiver<bool>,
    stage: Stage,
    heard: Heard,
    /// The next line may have begun before the port was opened.
    first_line: bool,
    piece: Box<[u8]>,
}

impl Feed {
    pub(super) fn new(
        intake: usize,
        name: String,
        decoder: Decoder,
        news: mpsc::Sender<IntakeNews>,
        stop: watch::Receiver<bool>,
        stage: Stage,
    ) -> Self {
        Self {
            intake,
            name,
            decoder,
            lines: Lines::default(),
            troubles: Troubles::default(),
            there: Changes::default(),
            news,
            stop,
            stage,
            heard: Heard::Nothing,
            first_line: false,
            piece: vec![0; PIECE_BYTES].into_boxed_slice(),
        }
    }

    /// A stream begins, in the middle of a line for all that is known if `cut`.
    pub(super) fn begin(&mut self, cut: bool) {
        self.stage.idles();
        self.lines = Lines::default();
        self.first_line = cut;
        self.decoder.begin();
    }

    /// Reads once and sends what the bytes complete. Says how many bytes came, 0 at the end of the stream.
    ///
    /// `time` gives a line's time from the number of bytes that came behind it in the same read.
    pub(super) async fn read(
        &mut self,
        source: &mut (impl AsyncRead + Unpin),
        time: impl FnMut(usize) -> ArrivalTime,
    ) -> Result<io::Result<usize>, Stopped> {
        self.stage.idles();
        let read = tokio::select! {
            biased;
            () = stopped(&mut self.stop) => return Err(Stopped),
            read = source.read(&mut self.piece) => read,
        };
        self.stage.moves();
        if let Ok(length) = read {
            self.take(length, time).await?;
        }
        Ok(read)
    }

    /// Waits until it is known what time it is; before, nothing is read that carries no time of its own.
    pub(super) async fn clock_is_set(&mut self, clock: &Clock) -> Result<(), Stopped> {
        if clock.is_waiting() {
            warn!(
                intake = self.name,
                "the machine's clock is not set: the intake is read when it is, in ten minutes at the latest"
            );
        }
        while clock.is_waiting() {
            self.pause(CLOCK_LOOK).await?;
        }
        Ok(())
    }

    /// The port is being opened, which takes as long as its driver does.
    pub(super) fn waits_for_a_driver(&self) {
        self.stage.idles();
    }

    /// Whether a line was understood since the intake was last down, or ever.
    pub(super) fn is_up(&self) -> bool {
        self.heard == Heard::Up
    }

    /// The intake cannot be read: said on change, tried again by the caller.
    pub(super) async fn down(&mut self, kind: &'static str, why: String) -> Result<(), Stopped> {
        self.say_overdue();
        let was_down = match &self.heard {
            Heard::Down(told) if *told == why => return Ok(()),
            Heard::Down(_) => true,
            Heard::Nothing | Heard::Up => false,
        };
        self.stage.moves();
        if was_down {
            self.tell(kind, &why);
        } else {
            self.say(true, why.clone());
        }
        self.heard = Heard::Down(why.clone());
        if was_down { Ok(()) } else { self.send(IntakeNews::Down { intake: self.intake, why }).await }
    }

    /// There is nothing more to read.
    pub(super) async fn ended(&mut self) -> Result<(), Stopped> {
        let counts = self.decoder.counts();
        info!(
            intake = self.name,
            lines = counts.lines,
            readings = counts.readings,
            refused = counts.refused,
            "the recording has been read to its end"
        );
        self.send(IntakeNews::Ended { intake: self.intake }).await
    }

    pub(super) async fn pause(&mut self, pause: Duration) -> Result<(), Stopped> {
        self.stage.moves_after(pause);
        self.unless_stopped(tokio::time::sleep(pause)).await
    }

    /// Waits for that, but no longer than the service goes on.
    pub(super) async fn unless_stopped<T>(
        &mut self,
        waited_for: impl Future<Output = T>,
    ) -> Result<T, Stopped> {
        tokio::select! {
            biased;
            () = stopped(&mut self.stop) => Err(Stopped),
            outcome = waited_for => Ok(outcome),
        }
    }

    /// Takes `length` bytes of `piece`, or with 0 the line that the end of the stream completes.
    async fn take(
        &mut self,
        length: usize,
        mut time: impl FnMut(usize) -> ArrivalTime,
    ) -> Result<(), Stopped> {
        let (mut readings, mut refused) = (Vec::new(), Vec::new());
        let mut rest = self.piece.get(..length).unwrap_or_default();
        let at_end = length == 0;
        while let Some(line) = if at_end { self.lines.last() } else { self.lines.next(&mut rest) } {
            let time = time(rest.len());
            if std::mem::take(&mut self.first_line) {
                self.decoder.first_line(&line, time, &mut readings);
            } else {
                self.decoder.line(&line, time, &mut readings, &mut refused);
            }
        }
        for refusal in &refused {
            self.tell(refusal.reason.kind(), &format_args!("{refusal}; refused"));
        }
        while let Some((kind, not_told)) = self.troubles.overdue(Instant::now()) {
            warn!(intake = self.name, kind, not_told, "more of the same");
        }
        self.say_overdue();
        if !readings.is_empty() && self.heard != Heard::Up {
            if matches!(self.heard, Heard::Down(_)) {
                self.say(false, "the intake is back".to_owned());
            }
            self.heard = Heard::Up;
            self.send(IntakeNews::Up { intake: self.intake }).await?;
        }
        if readings.is_empty() && refused.is_empty() {
            return Ok(());
        }
        self.send(IntakeNews::Readings { intake: self.intake, readings, refused: refused.len() as u64 }).await
    }

    /// Logs whether the intake is there: each change, unless it comes and goes without end, and the present state always.
    fn say(&mut self, bad: bool, text: String) {
        match self.there.note(bad, text, Instant::now()) {
            Some((true, text)) => warn!(intake = self.name, "{text}"),
            Some((false, text)) => info!(intake = self.name, "{text}"),
            None => {}
        }
    }

    fn say_overdue(&mut self) {
        match self.there.overdue(Instant::now()) {
            Some((true, text, changes)) => warn!(intake = self.name, changes, "{text}"),
            Some((false, text, changes)) => info!(intake = self.name, changes, "{text}"),
            None => {}
        }
    }

    fn tell(&mut self, kind: &'static str, what: &dyn std::fmt::Display) {
        match self.troubles.note(kind, Instant::now()) {
            Some(0) => warn!(intake = self.name, "{what}"),
            Some(not_told) => warn!(intake = self.name, kind, not_told, "{what}"),
            None => {}
        }
    }

    async fn send(&self, news: IntakeNews) -> Result<(), Stopped> {
        self.news.send(news).await.map_err(|_| Stopped)
    }
}

async fn stopped(stop: &mut watch::Receiver<bool>) {
    // an error means that whoever could say stop is gone, and that is a stop too
    let _ = stop.wait_for(|stop| *stop).await;
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn patience_grows_to_half_a_minute() {
        let mut patience = Patience::new();
        let pauses: Vec<_> = (0..7).map(|_| patience.next_pause().as_secs()).collect();
        assert_eq!(pauses, [1, 2, 4, 8, 16, 30, 30]);
    }
}
