//! Places for connections: so many in all and so many for one visitor. Whoever comes finds one; where none is free, a connection gives
//! way, and never one of somebody who holds few to somebody who holds many.

use std::cmp::Reverse;
use std::collections::HashMap;
use std::net::IpAddr;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Instant;

use tokio::sync::Notify;

use super::limits::one_visitor;

/// Connections at once.
const IN_ALL: usize = 256;
/// Of one address: an open page holds two or three, and a proxy brings those of everybody by one address.
const OF_ONE: usize = 64;

/// The places of a page.
#[derive(Debug, Default)]
pub(super) struct Places(Mutex<Taken>);

#[derive(Debug, Default)]
struct Taken {
    newest: u64,
    held: Vec<Held>,
}

#[derive(Debug)]
struct Held {
    number: u64,
    visitor: IpAddr,
    /// Whether anything that it asked was let in: who only holds the line gives way first.
    let_in: bool,
    /// When that was last, or when it came.
    at: Instant,
    wanted: Arc<Notify>,
}

/// A place that a connection holds until the value goes.
#[derive(Debug)]
pub(super) struct Place {
    number: u64,
    places: Arc<Places>,
    wanted: Arc<Notify>,
}

impl Places {
    /// A place for a connection of that address.
    pub(super) fn take(self: &Arc<Self>, address: IpAddr, now: Instant) -> Place {
        let visitor = one_visitor(address);
        let mut taken = self.taken();
        if let Some(place) = taken.gives_way_to(visitor) {
            taken.held.swap_remove(place).wanted.notify_one();
        }
        taken.newest += 1;
        let (number, wanted) = (taken.newest, Arc::new(Notify::new()));
        taken.held.push(Held { number, visitor, let_in: false, at: now, wanted: Arc::clone(&wanted) });
        Place { number, places: Arc::clone(self), wanted }
    }

    fn taken(&self) -> MutexGuard<'_, Taken> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Taken {
    /// The connection that is in the way of one more, if there is any: of the same visitor if it holds its share, otherwise of the
    /// one that holds most; one that was never let in first, then the one that has been quiet for longest.
    fn gives_way_to(&self, visitor: IpAddr) -> Option<usize> {
        let mut of_each: HashMap<IpAddr, usize> = HashMap::new();
        for held in &self.held {
            *of_each.entry(held.visitor).or_default() += 1;
        }
        let number_of = |visitor| of_each.get(&visitor).copied().unwrap_or_default();
        let its_own = number_of(visitor) >= OF_ONE;
        if !its_own && self.held.len() < IN_ALL {
            return None;
        }
        let candidates = self.held.iter().enumerate().filter(|(_, held)| !its_own || held.visitor == visitor);
        candidates
            .min_by_key(|(_, held)| (Reverse(number_of(held.visitor)), held.let_in, held.at))
            .map(|(place, _)| place)
    }
}

impl Place {
    /// Something that its connection asked was let in.
    pub(super) fn let_in(&self, now: Instant) {
        if let Some(held) = self.places.taken().held.iter_mut().find(|held| held.number == self.number) {
            (held.let_in, held.at) = (true, now);
        }
    }

    /// Waits until somebody else has taken it.
    pub(super) async fn is_wanted(&self) {
        self.wanted.notified().await;
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        self.places.taken().held.retain(|held| held.number != self.number);
    }
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use super::*;

    fn address(number: u8) -> IpAddr {
        [192, 0, 2, number].into()
    }

    fn count(places: &Arc<Places>, of: u8) -> usize {
        places.taken().held.iter().filter(|held| held.visitor == address(of)).count()
    }

    fn holds(place: &Place) -> bool {
        place.places.taken().held.iter().any(|held| held.number == place.number)
    }

    #[test]
    fn one_visitor_holds_its_share_and_its_newcomer_takes_the_place_of_its_quietest() {
        let places = Arc::<Places>::default();
        let begin = Instant::now();
        let at = |s| begin + Duration::from_secs(s);
        let first = places.take(address(1), at(0));
        first.let_in(at(1));
        let all: Vec<Place> = (2..200).map(|s| places.take(address(1), at(s))).collect();
        assert_eq!(count(&places, 1), OF_ONE);
        assert!(holds(&first), "it was let in, and those after it were not");
        assert!(!holds(&all[0]) && all.last().is_some_and(holds));
        drop((first, all));
        assert_eq!(count(&places, 1), 0, "what goes gives its place back");
    }

    #[test]
    fn who_holds_few_gives_way_to_nobody_who_holds_many() {
        let places = Arc::<Places>::default();
        let begin = Instant::now();
        let few = places.take(address(0), begin);
        let many: Vec<Place> = (1..=100)
            .flat_map(|of| (0..10).map(move |_| of))
            .map(|of| {
                let place = places.take(address(of), begin + Duration::from_secs(1));
                place.let_in(begin + Duration::from_secs(2));
                place
            })
            .collect();
        assert_eq!(places.taken().held.len(), IN_ALL);
        assert!(holds(&few), "the oldest, never let in, but alone");
        let newcomer = places.take(address(200), begin + Duration::from_secs(3));
        assert!(holds(&newcomer) && holds(&few));
        drop(many);
    }
}
