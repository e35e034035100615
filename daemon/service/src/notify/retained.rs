//! Retained states: which of them have changed since the broker was last told.

use std::collections::{HashMap, VecDeque};

use tokio::time::Instant;

use super::pace::Pace;

/// What a topic says now; the broker keeps it for those who come later.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StateMessage {
    /// The topic.
    pub topic: String,
    /// The payload.
    pub payload: String,
    /// Whether the broker must acknowledge it.
    pub qos1: bool,
}

/// The states of one connection. Bounded by the list that the keeper hands over: one entry a topic.
#[derive(Debug)]
pub(super) struct Retained {
    told: HashMap<String, String>,
    /// Acknowledged ones first, for the first is the service's own status.
    round: VecDeque<StateMessage>,
    next_round: Instant,
}

impl Retained {
    /// At a connection's beginning the broker counts as told nothing.
    pub(super) fn new(now: Instant) -> Self {
        Self { told: HashMap::new(), round: VecDeque::new(), next_round: now }
    }

    /// Gathers what has changed, if the last round is through and it is time for another.
    pub(super) fn look(&mut self, states: &[StateMessage], at: Instant, pace: &Pace) {
        if !self.round.is_empty() || at < self.next_round {
            return;
        }
        let changed = |state: &&StateMessage| self.told.get(&state.topic) != Some(&state.payload);
        let mut changed: Vec<_> = states.iter().filter(changed).cloned().collect();
        if !changed.is_empty() {
            changed.sort_by_key(|state| !state.qos1);
            self.round = changed.into();
            self.next_round = at + pace.states;
        }
    }

    /// Takes the next state of the round, of those that must be acknowledged or of all; it counts as told from here on.
    pub(super) fn take(&mut self, only_acknowledged: bool) -> Option<StateMessage> {
        let state = self.round.pop_front_if(|state| state.qos1 || !only_acknowledged)?;
        self.told.insert(state.topic.clone(), state.payload.clone());
        Some(state)
    }

    /// When another round may begin.
    pub(super) const fn next_round(&self) -> Instant {
        self.next_round
    }
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use super::*;

    fn states(payloads: [&str; 3]) -> Vec<StateMessage> {
        let topics = ["east-3/now", "west-1/now", "daemon"];
        let state = |(topic, payload): (&str, &str)| StateMessage {
            topic: topic.to_owned(),
            payload: payload.to_owned(),
            qos1: topic == "daemon",
        };
        topics.into_iter().zip(payloads).map(state).collect()
    }

    #[test]
    fn only_what_changed_is_told_and_no_sooner_than_the_pace() {
        let (start, pace) = (Instant::now(), Pace::default());
        let mut retained = Retained::new(start);
        let mut told = |list: &[StateMessage], seconds| {
            retained.look(list, start + Duration::from_secs(seconds), &pace);
            let acknowledged: Vec<_> = std::iter::from_fn(|| retained.take(true)).collect();
            assert!(acknowledged.iter().all(|state| state.qos1));
            let others = std::iter::from_fn(|| retained.take(false));
            let said = |state: StateMessage| format!("{} {}", state.topic, state.payload);
            acknowledged.into_iter().chain(others).map(said).collect::<Vec<_>>()
        };
        let first = states(["1", "2", "up"]);
        assert_eq!(told(&first, 0), ["daemon up", "east-3/now 1", "west-1/now 2"]);
        assert_eq!(told(&first, 60), [""; 0]);
        let second = states(["1", "3", "up"]);
        assert_eq!(told(&second, 60), ["west-1/now 3"]);
        let third = states(["4", "3", "up"]);
        assert_eq!(told(&third, 64), [""; 0]);
        assert_eq!(told(&third, 65), ["east-3/now 4"]);
    }
}
