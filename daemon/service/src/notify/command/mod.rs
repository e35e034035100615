//! The second way out: the operator's own program, run for alarms that the broker has not taken.
//!
//! The keeper hands an alarm over, raised or repeated, once it is committed, or where the store does not take it in time. It is held for the [grace](CommandSpec::grace)
//! and let go when the broker has acknowledged it, a person took note of it, or it ended. Without a broker, or while it is
//! known to be away, the program is run at once; so it is for an alarm that nobody has answered, whatever the broker took. Several
//! run at the same time, one an alarm, so that one that hangs holds up no other. A run that
//! fails is not tried again by itself: the alarm's next repeat is the next try. What waits when the service stops is let go,
//! for what still stands is repeated after the next start.

mod program;
mod waiting;

use std::time::Duration;

use tokio::sync::watch;
use tokio::task::JoinSet;
use tokio::time::Instant;
use tracing::{error, info, warn};

use super::publisher::stopped;
use crate::config::AlarmCommand;
use crate::watchdog::Stage;
use program::GaveUp;
use waiting::Waiting;
pub use waiting::{Call, MAX_WAITING};

/// Programs that run at the same time at most. With so many alarms at once one more adds nothing that is heard, and a small machine has
/// other work; judged. Those beyond wait for the first that ends, which its time limit sees to.
pub const AT_ONCE: usize = 16;

/// The program, and how long it and the broker may take.
#[derive(Debug, Clone)]
pub struct CommandSpec {
    /// What is run.
    pub command: AlarmCommand,
    /// Whether there is a broker that may take the alarm first.
    pub broker: bool,
    /// How long the broker may take.
    pub grace: Duration,
    /// How long a run may take; then the program and all that it started is killed.
    pub time_limit: Duration,
    /// On an orderly stop: how long what is under way may run on.
    pub stop_patience: Duration,
}

impl CommandSpec {
    /// With two minutes for the broker, in which a short loss of the network is over, and one for the program.
    pub const fn new(command: AlarmCommand, broker: bool) -> Self {
        let seconds = Duration::from_secs;
        Self { command, broker, grace: seconds(120), time_limit: seconds(60), stop_patience: seconds(5) }
    }
}

/// Runs the program once, now, with `input` on its standard input; gives what it said on its standard output.
///
/// # Errors
/// With the end of a sentence that begins with the program, and what to do.
pub async fn try_command(
    command: &AlarmCommand,
    input: &str,
    limit: Duration,
) -> Result<Option<String>, String> {
    let give_up = async {
        tokio::time::sleep(limit).await;
        GaveUp::After(limit)
    };
    let (said, outcome) = program::run(command, input, give_up).await;
    let also = |errors: String| format!("; it said: {errors}");
    let errors = said.errors.text().map_or_else(String::new, also);
    outcome.map(|()| said.output.text()).map_err(|why| format!("{why}{errors}"))
}

/// The keeper's end: what waits to be told by the program. It never blocks.
#[derive(Debug, Clone)]
pub struct Caller {
    waiting: watch::Sender<Waiting>,
}

impl Caller {
    /// Nothing waits.
    pub fn new(spec: &CommandSpec) -> Self {
        let (waiting, _) = watch::channel(Waiting::new(spec.grace, !spec.broker));
        Self { waiting }
    }

    /// Hands an alarm over that is committed. It takes the place of an earlier repeat that still waits.
    pub fn call(&self, call: Call) {
        let mut displaced = None;
        self.waiting.send_modify(|waiting| displaced = waiting.add(call, Instant::now()));
        if let Some(id) = displaced {
            error!(
                id,
                "the alarm command is not run for this alarm, for {MAX_WAITING} wait: the program is too slow for them; \
                 make it end sooner"
            );
        }
    }

    /// Hands over an alarm that the store has yet to take: it is due so much later.
    pub fn call_uncommitted(&self, call: Call, hold: Duration) {
        self.waiting.send_modify(|waiting| {
            waiting.add(call, Instant::now() + hold);
        });
    }

    /// The store has taken an alarm that was handed over before it had. If it is not waiting any more, it was told.
    pub fn committed(&self, call: Call) {
        self.waiting.send_modify(|waiting| waiting.confirm(call, Instant::now()));
    }

    /// The broker has acknowledged an alarm that the store had not taken.
    pub fn told_directly(&self, event_id: &str) {
        self.waiting
            .send_if_modified(|waiting| waiting.remove(|call| call.event_id == event_id && !call.unanswered));
    }

    /// The broker has acknowledged that row of the outbox.
    pub fn delivered(&self, row: i64) {
        self.waiting
            .send_if_modified(|waiting| waiting.remove(|call| call.row == Some(row) && !call.unanswered));
    }

    /// A person took note of that alarm, or it ended.
    pub fn withdraw(&self, event_id: &str) {
        self.waiting.send_if_modified(|waiting| waiting.remove(|call| call.event_id == event_id));
    }

    /// Whether the broker is known to be away.
    pub fn broker_is_away(&self, away: bool) {
        self.waiting.send_modify(|waiting| waiting.broker_is_away(away));
    }

    /// What waits, oldest first.
    pub fn waiting(&self) -> Vec<Call> {
        self.waiting.borrow().calls().cloned().collect()
    }

    fn take_due(&self, under_way: &[String]) -> Option<Call> {
        let mut due = None;
        self.waiting.send_if_modified(|waiting| {
            due = waiting.take_due(Instant::now(), under_way);
            false
        });
        due
    }
}

/// Runs the program for what is due, until told to stop.
pub async fn run(spec: CommandSpec, caller: Caller, mut stop: watch::Receiver<bool>, stage: Stage) {
    let mut changes = caller.waiting.subscribe();
    let mut runs: JoinSet<String> = JoinSet::new();
    let mut under_way: Vec<String> = Vec::new();
    loop {
        stage.idles();
        let has_room = runs.len() < AT_ONCE;
        let due = changes.borrow_and_update().next_due(&under_way).filter(|_| has_room);
        tokio::select! {
            biased;
            () = stopped(&mut stop) => break,
            Some(ended) = runs.join_next(), if !runs.is_empty() => match ended {
                Ok(event_id) => under_way.retain(|id| *id != event_id),
                // one that broke off names nobody: then none is held back
                Err(_) => under_way.clear(),
            },
            () = at(due) => {
                if let Some(call) = caller.take_due(&under_way) {
                    under_way.push(call.event_id.clone());
                    runs.spawn(run_once(spec.clone(), call, stop.clone()));
                }
            }
            // the caller is here too, so there is always someone who could
            _ = changes.changed() => {}
        }
    }
    // each ends within the patience of a stop
    while runs.join_next().await.is_some() {}
    let left = caller.waiting.borrow().calls().count();
    if left > 0 {
        warn!(
            left,
            "stopping before the alarm command was run for all alarms; they are repeated after the next start"
        );
    }
}

/// Ends at that instant, or never.
async fn at(instant: Option<Instant>) {
    match instant {
        Some(instant) => tokio::time::sleep_until(instant).await,
        None => std::future::pending().await,
    }
}

/// Runs the program once; gives the id of the alarm that it was run for.
async fn run_once(spec: CommandSpec, call: Call, mut stop: watch::Receiver<bool>) -> String {
    let limit = spec.time_limit;
    let give_up = async {
        tokio::select! {
            () = tokio::time::sleep(limit) => GaveUp::After(limit),
            () = async { stopped(&mut stop).await; tokio::time::sleep(spec.stop_patience).await } => GaveUp::ForStop,
        }
    };
    let (said, outcome) = program::run(&spec.command, &call.payload, give_up).await;
    let (id, program) = (&call.event_id, &spec.command.program);
    let (output, errors) = (said.output.text(), said.errors.text());
    match outcome {
        Ok(()) => info!(id, program, output, errors, "the alarm command was run"),
        Err(why) => error!(id, output, errors, "the alarm command {program} {why}"),
    }
    call.event_id
}

#[cfg(test)]
mod tests;
