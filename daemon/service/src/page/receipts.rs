//! What became of what people pressed. A page says of a press what is so when it is looked at: that it is in the record and the watch
//! has it, or what of that is not so. It goes by an entry of this list and never by what the address line says.

use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use bloom_model::time::Time;
use tokio::sync::watch;

use crate::facts::HouseFacts;

/// The same press again within this time is a finger that trembled.
const ONE_PRESS: Duration = Duration::from_secs(5);
/// What became of a press is told for so long.
const TOLD_FOR: Duration = Duration::from_secs(600);
/// Presses remembered at most.
const REMEMBERED: usize = 100;
/// Presses that wait for the record at most; further ones are refused.
const MOST_WAITING: usize = 16;

/// A press.
#[derive(Debug, Clone)]
pub(super) struct Press {
    /// The bench on whose page it is told; `None` for the first page.
    pub(super) bench: Option<String>,
    /// What was done, in words: `It is opening`.
    pub(super) what: String,
    /// Whether something was taken back.
    pub(super) withdrawn: bool,
    /// When it was pressed, by the site's clock.
    pub(super) time: Time,
}

/// How far it came towards the record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Put {
    /// The record has not answered yet.
    Waits,
    /// It is in the record, synced, under this number.
    Recorded(i64),
    /// It is not, and why, with the remedy.
    NotRecorded(String),
}

/// What is so of a press.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Became {
    /// The record has not answered yet.
    Waits,
    /// It is not in the record, and why, with the remedy.
    NotRecorded(String),
    /// It is in the record under this number, and the watch has not taken it up yet.
    NotTakenUp(i64),
    /// The watch took it up and changed nothing by it, and why.
    ChangedNothing(i64, String),
    /// It is in the record, and the watch has it.
    Done(i64),
}

/// A press that begins.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Begun {
    /// It is to be put into the record, and settled under this token.
    New(String),
    /// It is the same as this one.
    Same(String),
    /// Too many wait for the record.
    TooMany,
}

/// The presses of the last minutes.
#[derive(Debug, Default)]
pub(super) struct Receipts {
    kept: Mutex<Vec<Receipt>>,
    settled: watch::Sender<()>,
}

#[derive(Debug)]
struct Receipt {
    token: String,
    key: String,
    at: Instant,
    press: Press,
    put: Put,
}

impl Receipts {
    /// Begins a press; `key` is the same for the same press and for no other.
    ///
    /// # Errors
    /// If the machine has no randomness, in words.
    pub(super) fn begin(&self, key: String, press: Press, now: Instant) -> Result<Begun, String> {
        let mut kept = self.kept();
        kept.retain(|receipt| {
            receipt.put == Put::Waits || now.saturating_duration_since(receipt.at) < TOLD_FOR
        });
        // one that failed was no press: the next one is tried
        let same = |receipt: &&Receipt| {
            receipt.key == key
                && match receipt.put {
                    Put::Waits => true,
                    Put::Recorded(_) => now.saturating_duration_since(receipt.at) < ONE_PRESS,
                    Put::NotRecorded(_) => false,
                }
        };
        if let Some(receipt) = kept.iter().find(same) {
            return Ok(Begun::Same(receipt.token.clone()));
        }
        if kept.iter().filter(|receipt| receipt.put == Put::Waits).count() >= MOST_WAITING {
            return Ok(Begun::TooMany);
        }
        if kept.len() >= REMEMBERED
            && let Some(oldest) = kept.iter().position(|receipt| receipt.put != Put::Waits)
        {
            kept.remove(oldest);
        }
        let token = token()?;
        kept.push(Receipt { token: token.clone(), key, at: now, press, put: Put::Waits });
        Ok(Begun::New(token))
    }

    /// Notes what the record answered.
    pub(super) fn settle(&self, token: &str, put: Put) {
        if let Some(receipt) = self.kept().iter_mut().find(|receipt| receipt.token == token) {
            receipt.put = put;
        }
        self.settled.send_replace(());
    }

    /// Waits until the record has answered.
    pub(super) async fn answered(&self, token: &str) -> Put {
        let mut settled = self.settled.subscribe();
        loop {
            settled.mark_unchanged();
            let put =
                self.kept().iter().find(|receipt| receipt.token == token).map(|receipt| receipt.put.clone());
            match put {
                Some(Put::Waits) => {}
                Some(put) => return put,
                None => return Put::Waits,
            }
            if settled.changed().await.is_err() {
                return Put::Waits;
            }
        }
    }

    /// What is so of the press of that token, if it is one that is told on the page of that bench, or on the first page.
    pub(super) fn of(
        &self,
        token: &str,
        bench: Option<&str>,
        facts: &HouseFacts,
        now: Instant,
    ) -> Option<(Press, Became)> {
        let kept = self.kept();
        let receipt = kept.iter().find(|receipt| receipt.token == token)?;
        let is_told = receipt.put == Put::Waits || now.saturating_duration_since(receipt.at) < TOLD_FOR;
        (is_told && receipt.press.bench.as_deref() == bench)
            .then(|| (receipt.press.clone(), became(&receipt.put, facts)))
    }

    fn kept(&self) -> MutexGuard<'_, Vec<Receipt>> {
        self.kept.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// What is so of something that came so far.
pub(super) fn became(put: &Put, facts: &HouseFacts) -> Became {
    match put {
        Put::Waits => Became::Waits,
        Put::NotRecorded(why) => Became::NotRecorded(why.clone()),
        Put::Recorded(number) if facts.taken_up < *number => Became::NotTakenUp(*number),
        Put::Recorded(number) => match facts.changed_nothing.iter().find(|entry| entry.number == *number) {
            Some(entry) => Became::ChangedNothing(*number, entry.why.clone()),
            None => Became::Done(*number),
        },
    }
}

/// What nobody guesses: whoever does would make a page say that somebody pressed.
fn token() -> Result<String, String> {
    let mut bytes = [0; 8];
    rustix::rand::getrandom(&mut bytes, rustix::rand::GetRandomFlags::empty())
        .map_err(|error| format!("no randomness from the system: {error}"))?;
    Ok(format!("{:016x}", u64::from_le_bytes(bytes)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn press() -> Press {
        Press {
            bench: Some("east-3".to_owned()),
            what: "It is opening".to_owned(),
            withdrawn: false,
            time: Time::from_unix_ms(0),
        }
    }

    fn begin(receipts: &Receipts, key: &str, now: Instant) -> Begun {
        receipts.begin(key.to_owned(), press(), now).unwrap()
    }

    fn new(receipts: &Receipts, key: &str, now: Instant) -> String {
        match begin(receipts, key, now) {
            Begun::New(token) => token,
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn a_finger_that_trembles_presses_once() {
        let receipts = Receipts::default();
        let begin_at = Instant::now();
        let first = new(&receipts, "east-3 opened", begin_at);
        assert_eq!(begin(&receipts, "east-3 opened", begin_at), Begun::Same(first.clone()), "while it waits");
        receipts.settle(&first, Put::Recorded(1));
        let within = begin_at + Duration::from_secs(1);
        assert_eq!(begin(&receipts, "east-3 opened", within), Begun::Same(first.clone()));
        assert_ne!(new(&receipts, "east-3 scent", within), first);
        assert_ne!(new(&receipts, "east-3 opened", begin_at + Duration::from_secs(6)), first);
    }

    #[test]
    fn a_press_that_failed_is_none_and_the_next_one_is_tried() {
        let receipts = Receipts::default();
        let now = Instant::now();
        let first = new(&receipts, "east-3 opened", now);
        receipts.settle(&first, Put::NotRecorded("the disk is full".to_owned()));
        assert_ne!(new(&receipts, "east-3 opened", now), first);
    }

    #[test]
    fn no_more_than_so_many_wait_and_no_more_than_so_many_are_kept() {
        let receipts = Receipts::default();
        let now = Instant::now();
        for number in 0..MOST_WAITING {
            new(&receipts, &number.to_string(), now);
        }
        assert_eq!(begin(&receipts, "one more", now), Begun::TooMany);
        let receipts = Receipts::default();
        for number in 0..300 {
            let token = new(&receipts, &number.to_string(), now);
            receipts.settle(&token, Put::Recorded(number));
        }
        assert_eq!(receipts.kept().len(), REMEMBERED);
    }
}
