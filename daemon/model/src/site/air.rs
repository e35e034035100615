//! Benches under one glass lend each other their air.

use super::Site;
use crate::bench::Bench;
use crate::quantity::Quantity;
use crate::reading::{Observed, Reading};
use crate::time::Time;

/// Whether an instant is a full hour of universal time.
fn is_full_hour(time: Time) -> bool {
    const HOUR_MS: i64 = 3_600_000;
    time.unix_ms().rem_euclid(HOUR_MS) == 0
}

impl Site {
    /// Before a range is told to a bench whose own air is not known: lends it that of the others.
    pub(super) fn lend_air(&mut self, reading: &Reading) {
        if !matches!(reading.observed, Observed::Value(Quantity::TipRange | Quantity::RimRange, _)) {
            return;
        }
        let (place, now) = (usize::from(reading.bench.0), reading.time);
        if self.benches.get(place).is_none_or(|bench| bench.own_temperature_c(now).is_some()) {
            return;
        }
        let Some(others_c) = self.mean_temperature_without(place, now) else { return };
        if let Some(bench) = self.benches.get_mut(place) {
            bench.lend_air(now, others_c);
        }
    }

    /// On the hour: each bench's air beside that of the others, for when its thermometer fails.
    pub(super) fn compare_airs(&mut self, now: Time) {
        if !is_full_hour(now) {
            return;
        }
        for place in 0..self.benches.len() {
            let others_c = self.mean_temperature_without(place, now);
            if let (Some(bench), Some(others_c)) = (self.benches.get_mut(place), others_c) {
                bench.compare_air(now, others_c);
            }
        }
    }

    fn mean_temperature_without(&self, place: usize, now: Time) -> Option<f64> {
        let others = self.benches.iter().enumerate().filter(|(other, _)| *other != place);
        let known = others.filter_map(|(_, bench): (_, &Bench)| bench.own_temperature_c(now));
        let (sum, count) = known.fold((0.0, 0_u32), |(sum, count), celsius| (sum + celsius, count + 1));
        (count > 0).then(|| sum / f64::from(count))
    }
}
