//! The opening alarm as it stands, with the figures of the moment.

use super::Bench;
use super::raise::rounded;
use crate::bloom::hours::open_hours;
use crate::event::{Details, Event, EventKind, OpeningDetails, OpeningMoment, Severity, ToldBy};
use crate::opening::rim_line;
use crate::time::Time;

/// A level older than this is not where the edge is, h.
const FRESH_H: f64 = 1.0;

impl Bench {
    /// The opening alarm that stands, under its own id and time, with the figures of `now`: a repeat that carries those of the
    /// evening is false the next morning. `None` while none stands.
    pub fn opening_alarm(&self, now: Time) -> Option<Event> {
        let bloom = self.state.bloom.as_ref().filter(|bloom| bloom.stage.is_open())?;
        let opening = bloom.opening.as_ref()?;
        let newest = self.state.rim.newest().filter(|newest| now.hours_since(newest.time) <= FRESH_H);
        let mut evidence = opening.evidence;
        if let Some(newest) = newest {
            let line = rim_line(self.state.rim.rings(), now);
            evidence.advance_m = line.map_or(newest.position_m, |line| line.level_m) - opening.base_m;
            evidence.rate_m_h = line.map_or(0.0, |line| line.rate_m_h);
        }
        let by_rim = opening.told_by == ToldBy::Rim;
        let seen = by_rim && newest.is_some();
        let full_open = self.full_open_now(now);
        let moment = OpeningMoment {
            now,
            advance_m: evidence.advance_m,
            rate_m_h: evidence.rate_m_h,
            seen,
            full_open,
            hours: open_hours(evidence.began, now, &self.spec.profile, self.site.timezone),
            pollinated: opening.pollinated,
            collected: opening.collected,
            takes_the_place: false,
        };
        let details = OpeningDetails {
            told_by: opening.told_by,
            advance_cm: seen.then(|| rounded(evidence.advance_m * 100.0, 1)),
            rate_cm_hour: seen.then(|| rounded(evidence.rate_m_h * 100.0, 2)),
            baseline_cm_hour: by_rim.then(|| rounded(evidence.baseline_m_h * 100.0, 3)),
            spadix_above_air_k: self.spadix_above_air_k(now).map(|kelvin| rounded(kelvin, 1)),
            began: evidence.began,
            found_open: evidence.found_open,
            full_open: full_open.unwrap_or(opening.full_open),
            full_since: opening.full_since,
            receptive: moment.hours.receptive,
            moment,
        };
        Some(Event {
            id: opening.alarm.clone(),
            time: opening.raised,
            site: std::sync::Arc::clone(&self.site.name),
            bench: Some(std::sync::Arc::clone(&self.spec.id)),
            plant: self.spec.plant.clone(),
            bloom: Some(std::sync::Arc::clone(&bloom.id)),
            kind: EventKind::OpeningTonight,
            severity: Severity::Alarm,
            details: Details::Opening(details),
            ends: Vec::new(),
            stands_until: None,
        })
    }
}
