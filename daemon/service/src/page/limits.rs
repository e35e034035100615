//! How much one visitor may ask for: a bucket for each address, which fills again with time.

use std::collections::HashMap;
use std::net::{IpAddr, Ipv6Addr};
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

/// Addresses remembered at most; beyond, the one that was quiet for longest is forgotten.
const REMEMBERED: usize = 1_024;

/// Buckets of one size.
#[derive(Debug)]
pub(super) struct Limits {
    most: f64,
    fills_in: Duration,
    visitors: Mutex<HashMap<IpAddr, Bucket>>,
}

#[derive(Debug, Clone, Copy)]
struct Bucket {
    left: f64,
    at: Instant,
}

impl Limits {
    /// `most` at once, and as many again in `fills_in`.
    pub(super) fn new(most: u32, fills_in: Duration) -> Self {
        Self { most: f64::from(most), fills_in, visitors: Mutex::default() }
    }

    /// Takes one for that address.
    ///
    /// # Errors
    /// How long to wait for the next, where none is left.
    pub(super) fn take(&self, visitor: IpAddr, now: Instant) -> Result<(), Duration> {
        let visitor = one_visitor(visitor);
        let mut visitors = self.visitors.lock().unwrap_or_else(PoisonError::into_inner);
        if visitors.len() >= REMEMBERED
            && !visitors.contains_key(&visitor)
            && let Some(quietest) = visitors.iter().min_by_key(|(_, bucket)| bucket.at).map(|(who, _)| *who)
        {
            visitors.remove(&quietest);
        }
        let bucket = visitors.entry(visitor).or_insert(Bucket { left: self.most, at: now });
        let filled = now.saturating_duration_since(bucket.at).as_secs_f64() / self.fills_in.as_secs_f64();
        *bucket = Bucket { left: (bucket.left + filled * self.most).min(self.most), at: now };
        if bucket.left < 1.0 {
            return Err(self.fills_in.mul_f64((1.0 - bucket.left) / self.most));
        }
        bucket.left -= 1.0;
        Ok(())
    }

    /// Gives one back that was no burden.
    pub(super) fn give_back(&self, visitor: IpAddr) {
        let mut visitors = self.visitors.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(bucket) = visitors.get_mut(&one_visitor(visitor)) {
            bucket.left = (bucket.left + 1.0).min(self.most);
        }
    }
}

/// What one visitor holds: an IPv4 address, or the 64-bit prefix of a network, in which a host may take any address (RFC 4291).
pub(super) fn one_visitor(address: IpAddr) -> IpAddr {
    match address.to_canonical() {
        IpAddr::V6(address) => {
            let [a, b, c, d, ..] = address.segments();
            IpAddr::V6(Ipv6Addr::new(a, b, c, d, 0, 0, 0, 0))
        }
        address => address,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_visitor_has_a_bucket_that_fills_again_and_others_have_their_own() {
        let limits = Limits::new(3, Duration::from_secs(30));
        let (one, other) = ([192, 0, 2, 1].into(), [192, 0, 2, 2].into());
        let begin = Instant::now();
        assert!((0..3).all(|_| limits.take(one, begin).is_ok()));
        let wait = limits.take(one, begin).unwrap_err();
        assert_eq!(wait.as_secs_f64().round() as u64, 10);
        assert!(limits.take(other, begin).is_ok());
        assert!(limits.take(one, begin + Duration::from_secs(9)).is_err());
        assert!(limits.take(one, begin + Duration::from_secs(11)).is_ok());
        assert!(limits.take(one, begin + Duration::from_secs(11)).is_err());
        limits.give_back(one);
        assert!(limits.take(one, begin + Duration::from_secs(11)).is_ok());
    }

    #[test]
    fn a_network_of_version_6_is_one_visitor_and_the_list_is_bounded() {
        let limits = Limits::new(1, Duration::from_secs(30));
        let begin = Instant::now();
        let host = |text: &str| text.parse::<IpAddr>().unwrap();
        assert!(limits.take(host("2001:db8:1:2::1"), begin).is_ok());
        assert!(limits.take(host("2001:db8:1:2:ffff::9"), begin).is_err());
        assert!(limits.take(host("2001:db8:1:3::1"), begin).is_ok());
        for number in 0..2_000_u32 {
            let _ = limits.take(Ipv6Addr::new(0x2001, 0xdb8, 9, number as u16, 0, 0, 0, 1).into(), begin);
        }
        assert!(limits.visitors.lock().unwrap().len() <= REMEMBERED);
    }
}
