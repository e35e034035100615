//! How fast the publisher tries, and for how long it waits.

use std::hash::{DefaultHasher, Hash, Hasher};
use std::time::Duration;

use tokio::time::Instant;

/// All spans of time in the publisher. The defaults are what the service runs with; checks shorten them.
#[derive(Debug, Clone)]
pub struct Pace {
    /// From a lost connection to the first attempt at another.
    pub first_retry: Duration,
    /// The longest pause between attempts; each is twice the one before up to here.
    pub longest_retry: Duration,
    /// A connection that stood for this long was a good one: the pauses begin anew.
    pub settled: Duration,
    /// For name, connection, TLS and the broker's answer together; also for each write.
    pub connect: Duration,
    /// For the broker's acknowledgement of a message or subscription; then the connection is given up.
    pub acknowledged: Duration,
    /// The outbox is looked into this often though nobody said that there is something new.
    pub look: Duration,
    /// From one round of states to the next.
    pub states: Duration,
    /// On an orderly stop: for what still waits in the outbox.
    pub drain: Duration,
    /// On an orderly stop: for the goodbye, after that.
    pub goodbye: Duration,
    /// The same trouble is logged again after this long.
    pub between_lines: Duration,
}

impl Default for Pace {
    fn default() -> Self {
        let seconds = Duration::from_secs;
        Self {
            first_retry: seconds(1),
            longest_retry: seconds(30),
            settled: seconds(30),
            connect: seconds(10),
            acknowledged: seconds(30),
            look: seconds(5),
            states: seconds(5),
            drain: seconds(2),
            goodbye: seconds(5),
            between_lines: seconds(3600),
        }
    }
}

/// The pauses between attempts to connect.
#[derive(Debug)]
pub(crate) struct Retries {
    seed: String,
    failed: u32,
}

impl Retries {
    /// Pauses of their own for each `seed`, so that several houses do not knock at a broker in step.
    pub(crate) const fn new(seed: String) -> Self {
        Self { seed, failed: 0 }
    }

    /// An attempt went well.
    pub(crate) const fn begin_anew(&mut self) {
        self.failed = 0;
    }

    /// The pause after a connection that was lost, or never came about, after it `stood` for this long.
    pub(crate) fn pause(&mut self, stood: Duration, pace: &Pace) -> Duration {
        if stood >= pace.settled {
            self.begin_anew();
        }
        let doubled = pace.first_retry.saturating_mul(1 << self.failed.min(16));
        let mut hasher = DefaultHasher::new();
        (&self.seed, self.failed).hash(&mut hasher);
        let spread = (hasher.finish() % 1000) as f64 / 1000.0;
        self.failed = self.failed.saturating_add(1);
        doubled.min(pace.longest_retry).mul_f64(0.8 + 0.2 * spread)
    }
}

/// Says which of a row of texts are news: one that differs from the last, or says the same after long.
#[derive(Debug, Default)]
pub(crate) struct Told {
    last: Option<(String, Instant)>,
}

impl Told {
    pub(crate) fn is_news(&mut self, text: &str, now: Instant, between: Duration) -> bool {
        let same = self.last.as_ref().is_some_and(|(last, at)| last == text && now < *at + between);
        if !same {
            self.last = Some((text.to_owned(), now));
        }
        !same
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pauses_grow_to_half_a_minute_and_begin_anew_after_a_good_connection() {
        let pace = Pace::default();
        let mut retries = Retries::new("anthesisd-saltmarsh".to_owned());
        for whole in [1.0, 2.0, 4.0, 8.0, 16.0, 30.0, 30.0, 30.0] {
            let pause = retries.pause(Duration::from_secs(29), &pace).as_secs_f64();
            assert!((0.8 * whole..=whole).contains(&pause), "{pause} of {whole}");
        }
        for _ in 0..100 {
            retries.pause(Duration::ZERO, &pace);
        }
        assert!(retries.pause(Duration::ZERO, &pace) <= pace.longest_retry);
        assert!(retries.pause(pace.settled, &pace) <= Duration::from_secs(1));
    }

    #[test]
    fn pauses_are_the_same_for_the_same_house_and_differ_between_houses() {
        let pauses = |seed: &str| {
            let mut retries = Retries::new(seed.to_owned());
            [0; 5].map(|_| retries.pause(Duration::ZERO, &Pace::default()))
        };
        assert_eq!(pauses("saltmarsh"), pauses("saltmarsh"));
        assert_ne!(pauses("saltmarsh"), pauses("dunes"));
    }

    #[test]
    fn the_same_is_told_once_an_hour() {
        let start = Instant::now();
        let hour = Duration::from_secs(3600);
        let mut told = Told::default();
        assert!(told.is_news("refused", start, hour));
        assert!(!told.is_news("refused", start + hour / 2, hour));
        assert!(told.is_news("no answer", start + hour / 2, hour));
        assert!(told.is_news("refused", start + hour / 2, hour));
        assert!(told.is_news("refused", start + hour * 2, hour));
    }
}
