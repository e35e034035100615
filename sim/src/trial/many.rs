//! Many seasons of one kind, on as many threads as there are processors.

use std::thread;

use crate::options::SeasonOptions;
use crate::season::Season;
use crate::truth::Outcome;

/// Seasons drawn alike, from a seed on.
#[derive(Debug, Clone)]
pub struct Many {
    /// How many.
    pub seasons: u64,
    /// The first seed; the others follow it.
    pub seed: u64,
    /// What they have in common. Where no outcome is wished, a quarter never open: of eight seasons one stops and one is a leaf.
    pub options: SeasonOptions,
}

impl Many {
    /// Does something with every season.
    pub fn each<T: Send>(&self, each: impl Fn(&Season) -> T + Sync) -> Vec<T> {
        let workers = thread::available_parallelism().map_or(1, |count| count.get() as u64);
        let each = &each;
        let work = move |worker: u64| -> Vec<T> {
            (worker..self.seasons)
                .step_by(usize::try_from(workers).unwrap_or(1))
                .map(|number| each(&self.season(number)))
                .collect()
        };
        thread::scope(|scope| {
            let handles: Vec<_> = (0..workers).map(|worker| scope.spawn(move || work(worker))).collect();
            handles.into_iter().filter_map(|handle| handle.join().ok()).flatten().collect()
        })
    }

    /// One of them, by its number.
    pub fn season(&self, number: u64) -> Season {
        Season::draw(self.seed + number, &self.options_of(number))
    }

    fn options_of(&self, number: u64) -> SeasonOptions {
        let mut options = self.options.clone();
        options.plant.outcome.get_or_insert(match number % 8 {
            3 => Outcome::Stops,
            7 => Outcome::Leaf,
            _ => Outcome::Opens,
        });
        options
    }
}
