//! What the phone heard of each trouble, held against what it had to hear.

use std::collections::{BTreeSet, HashSet};

use super::super::inbox::{Inbox, Said};
use super::super::phone::Heard;
use super::acts::Act;
use super::benches::IDS;

/// What was heard so far.
#[derive(Debug)]
pub(super) struct Hearing {
    /// The messages.
    pub(super) inbox: Inbox,
    /// Ids of all events heard.
    known: HashSet<String>,
    /// Events since the newest trouble began.
    since: Vec<Said>,
    /// Benches whose state was heard.
    benches: BTreeSet<String>,
}

impl Hearing {
    /// Nothing heard yet, under topics that begin with `base`.
    pub(super) fn new(base: String) -> Self {
        let (known, since, benches) = Default::default();
        Self { inbox: Inbox::new(base), known, since, benches }
    }

    /// Takes a message and gives the line that is shown of it.
    pub(super) fn hear(&mut self, heard: &Heard) -> Option<String> {
        let (place, payload) = self.inbox.open(heard)?;
        if let Some(bench) = place.strip_suffix("/now") {
            self.benches.insert(bench.to_owned());
        }
        let said = Said::read(&payload).filter(|_| place.ends_with("event"))?;
        if !self.known.insert(said.id.clone()) {
            // a message may come twice; what is repeated says so
            return (said.repeat > 0).then(|| said.repeat_line());
        }
        let line = said.line();
        self.since.push(said);
        Some(line)
    }

    /// Whether the service has been heard of every bench.
    pub(super) fn knows_all_benches(&self) -> bool {
        IDS.iter().all(|bench| self.benches.contains(*bench))
    }

    /// Whether an event of that kind has come since the trouble began.
    pub(super) fn has(&self, kind: &str) -> bool {
        self.since.iter().any(|said| said.kind == kind)
    }

    /// Another trouble begins.
    pub(super) fn begin(&mut self) {
        self.since.clear();
    }

    /// Everything that was not as it must be since the trouble began.
    pub(super) fn faults(&self, act: &Act) -> Vec<String> {
        let of = |kind: &str| self.since.iter().filter(|said| said.kind == kind).collect::<Vec<_>>();
        let mut faults = Vec::new();
        for kind in [act.warning, act.over] {
            match of(kind).len() {
                1 => {}
                0 => faults.push(format!("{kind} did not come")),
                times => faults.push(format!("{kind} came {times} times")),
            }
        }
        for warning in of(act.warning) {
            let named = named(&warning.message);
            if named != act.names {
                faults.push(format!("{} named {named:?} where it had to name {:?}", act.warning, act.names));
            }
            if warning.severity != act.severity {
                faults.push(format!("{} came as {}, not as {}", act.warning, warning.severity, act.severity));
            }
        }
        let others = self.since.iter().filter(|said| ![act.warning, act.over].contains(&said.kind.as_str()));
        let loud = others.filter(|said| said.severity != "notice");
        faults.extend(loud.map(|said| format!("{} came with it", said.id)));
        faults
    }
}

/// The benches that a message names.
fn named(message: &str) -> Vec<&'static str> {
    IDS.into_iter().filter(|bench| message.contains(bench)).collect()
}

#[cfg(test)]
mod tests {
    use super::super::acts::ACTS;
    use super::*;
    use serde_json::json;

    fn hearing(events: &[(&str, &str, &str)]) -> Hearing {
        let mut hearing = Hearing::new("anthesis/saltmarsh/".to_owned());
        for (number, (kind, severity, message)) in events.iter().enumerate() {
            let event = json!({
                "id": format!("{kind}/{number}"), "time": "2027-06-02T12:00:00Z", "event": kind,
                "severity": severity, "message": message, "rehearsal": true,
            });
            let payload = event.to_string().into_bytes();
            hearing.hear(&Heard { topic: "anthesis/saltmarsh/event".to_owned(), payload });
        }
        hearing
    }

    #[test]
    fn a_warning_is_well_only_when_it_came_once_named_its_benches_and_was_taken_back() {
        let line = ACTS.iter().find(|act| act.warning == "intake-down").unwrap();
        let down = ("intake-down", "warning", "Line dead: east-3, east-4 not read since Wed 12:00.");
        let over = (
            "intake-down-over",
            "warning",
            "Line works again: readings have come without a break, of east-3, east-4 (line).",
        );
        let faults = |events: &[(&str, &str, &str)]| hearing(events).faults(line).join("; ");
        assert_eq!(faults(&[down, over]), "");
        assert_eq!(faults(&[down]), "intake-down-over did not come");
        assert_eq!(faults(&[over]), "intake-down did not come");
        assert_eq!(faults(&[down, down, over]), "intake-down came 2 times");
        let short = ("intake-down", "warning", "Line dead: east-3 not read since Wed 12:00.");
        assert!(faults(&[short, over]).starts_with("intake-down named [\"east-3\"]"));
        assert_eq!(
            faults(&[("intake-down", "alarm", down.2), over]),
            "intake-down came as alarm, not as warning"
        );
        let silent = ("sensor-silent", "warning", "Thermometer of east-3 silent since Wed 12:00.");
        assert_eq!(faults(&[down, silent, over]), "sensor-silent/1 came with it");
    }
}
