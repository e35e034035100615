//! The publisher at work: one connection after the other, until it is told to stop.

use tokio::time::Instant;
use tracing::{info, warn};

use super::connection::{Connection, Ended};
use super::mqtt;
use super::pace::Retries;
use super::publisher::{BrokerNews, Cut, Outbox, Publisher, stopped};

/// So many connections lost over the same row are no accident.
const SUSPICIOUS: u32 = 5;

impl<O: Outbox> Publisher<O> {
    /// Publishes until told to stop; then what waits, for a moment, then the goodbye.
    pub async fn run(mut self) {
        let mut retries = Retries::new(self.spec.client_id.clone());
        loop {
            let (why, over_mark, last_heard) = match self.connect().await {
                Ended::Done => return,
                Ended::Lost { why, row, over_mark, last_heard } => {
                    (self.suspect(why, row), over_mark, last_heard)
                }
            };
            self.cuts_over_mark += u32::from(over_mark);
            let stood = self.connected.take().map(|since| since.elapsed());
            let pause = retries.pause(stood.unwrap_or_default(), &self.pace);
            if stood.is_some_and(|stood| stood >= self.pace.settled) {
                self.told.begin_anew();
            }
            let now = Instant::now();
            let news = self.told.trouble.is_news(&why, now, self.pace.between_lines);
            if news || stood.is_some() {
                let text = format!(
                    "{why}; messages wait in the store, the next attempt comes in {:.1} s",
                    pause.as_secs_f64()
                );
                self.say(true, text);
                let heard_ago = stood.map(|_| last_heard.elapsed());
                self.tell(BrokerNews::Disconnected { why, heard_ago }).await;
            }
            self.told.look(now);
            self.channels.stage.moves_after(pause);
            tokio::select! {
                () = stopped(&mut self.channels.stop) => return,
                () = tokio::time::sleep(pause) => {}
            }
        }
    }

    async fn connect(&mut self) -> Ended {
        let will = mqtt::down(&self.spec);
        self.channels.stage.moves_after(self.pace.connect);
        let opened = tokio::select! {
            () = stopped(&mut self.channels.stop) => return Ended::Done,
            () = self.channels.news.closed() => return Ended::Done,
            opened = mqtt::open(&self.spec, &self.pace, Some(will), self.spec.keep_session) => opened,
        };
        match opened {
            Ok((wire, answer)) => {
                self.connected = Some(Instant::now());
                self.say(false, format!("connected to the broker at {}:{}", self.spec.host, self.spec.port));
                let resumed = answer.session_present && self.spec.keep_session;
                self.tell(BrokerNews::Connected { resumed }).await;
                Connection::new(self, wire, resumed).attend().await
            }
            Err(why) => Ended::Lost { why, row: None, over_mark: false, last_heard: Instant::now() },
        }
    }

    /// Logs how it stands with the broker: each change, unless it comes and goes without end, and the present state always.
    fn say(&mut self, away: bool, text: String) {
        match self.told.broker.note(away, text, std::time::Instant::now()) {
            Some((false, text)) => info!("{text}"),
            Some((true, text)) => warn!("{text}"),
            None => {}
        }
    }

    /// Names the row over which one connection after another was lost.
    fn suspect(&mut self, why: String, row: Option<i64>) -> String {
        let Some(row) = row else { return why };
        if row == self.cut.row {
            self.cut.times = self.cut.times.saturating_add(1);
        } else {
            self.cut = Cut { row, times: 1 };
        }
        if self.cut.times < SUSPICIOUS {
            return why;
        }
        format!(
            "{why}; every time while message {row} of the outbox was under way: look into the broker's access rules \
             and its limit of message size, for the messages behind it wait"
        )
    }
}
