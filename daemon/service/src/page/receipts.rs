//! What became of what people pressed. A page says of a press what is so when it is looked at: that it is in the record and the watch
//! has it, or what of that is not so. It goes by an entry of this list and never by what the address line says.

use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use bloom_model::time::Time;
use tokio::sync::watch;

use crate::keeper::Booked;

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

/// What is so of a press.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Became {
    /// The record has not answered yet.
    Waits,
    /// The watch has answered.
    Answered(Booked),
    /// It came to nobody, and why.
    NotHeard(String),
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
    became: Became,
}

impl Receipts {
    /// Begins a press; `key` is the same for the same press and for no other.
    ///
    /// # Errors
    /// If the machine has no randomness, in words.
    pub(super) fn begin(&self, key: String, press: Press, now: Instant) -> Result<Begun, String> {
        let mut kept = self.kept();
        kept.retain(|receipt| {
            receipt.became == Became::Waits || now.saturating_duration_since(receipt.at) < TOLD_FOR
        });
        // one that failed was no press: the next one is tried
        let same = |receipt: &&Receipt| {
            receipt.key == key
                && match receipt.became {
                    Became::Waits => true,
                    Became::Answered(Booked::Dropped(_)) | Became::NotHeard(_) => false,
                    Became::Answered(_) => now.saturating_duration_since(receipt.at) < ONE_PRESS,
                }
        };
        if let Some(receipt) = kept.iter().find(same) {
            return Ok(Begun::Same(receipt.token.clone()));
        }
        if kept.iter().filter(|receipt| receipt.became == Became::Waits).count() >= MOST_WAITING {
            return Ok(Begun::TooMany);
        }
        if kept.len() >= REMEMBERED
            && let Some(oldest) = kept.iter().position(|receipt| receipt.became != Became::Waits)
        {
            kept.remove(oldest);
        }
        let token = token()?;
        kept.push(Receipt { token: token.clone(), key, at: now, press, became: Became::Waits });
        Ok(Begun::New(token))
    }

    /// Notes what was answered.
    pub(super) fn settle(&self, token: &str, became: Became) {
        if let Some(receipt) = self.kept().iter_mut().find(|receipt| receipt.token == token) {
            receipt.became = became;
        }
        self.settled.send_replace(());
    }

    /// Waits until it is answered.
    pub(super) async fn answered(&self, token: &str) -> Became {
        let mut settled = self.settled.subscribe();
        loop {
            settled.mark_unchanged();
            let became = self
                .kept()
                .iter()
                .find(|receipt| receipt.token == token)
                .map(|receipt| receipt.became.clone());
            match became {
                Some(Became::Waits) => {}
                Some(became) => return became,
                None => return Became::Waits,
            }
            if settled.changed().await.is_err() {
                return Became::Waits;
            }
        }
    }

    /// What is so of the press of that token, if it is one that is told on the page of that bench, or on the first page.
    pub(super) fn of(&self, token: &str, bench: Option<&str>, now: Instant) -> Option<(Press, Became)> {
        let kept = self.kept();
        let receipt = kept.iter().find(|receipt| receipt.token == token)?;
        let is_told = receipt.became == Became::Waits || now.saturating_duration_since(receipt.at) < TOLD_FOR;
        (is_told && receipt.press.bench.as_deref() == bench)
            .then(|| (receipt.press.clone(), receipt.became.clone()))
    }

    fn kept(&self) -> MutexGuard<'_, Vec<Receipt>> {
        self.kept.lock().unwrap_or_else(PoisonError::into_inner)
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
        receipts.settle(&first, Became::Answered(Booked::Recorded(Some(1))));
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
        receipts.settle(&first, Became::NotHeard("the watch has ended".to_owned()));
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
            receipts.settle(&token, Became::Answered(Booked::Recorded(Some(number))));
        }
        assert_eq!(receipts.kept().len(), REMEMBERED);
    }
}
