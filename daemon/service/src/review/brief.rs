//! Which days of a long span are told by their hours, and which by their readings: those of a bloom, those in which a sensor said nothing
//! for a while and those next to them, and those with an hour that crossed a limit for a moment.

use std::sync::Arc;

use bloom_model::quantity::{Quantity, Variable};
use bloom_model::spec::Limits;
use bloom_model::time::Time;
use chrono::{Offset, TimeDelta, TimeZone};
use chrono_tz::Tz;

use super::calendar::Part;
use super::climate::{ClimateFigures, Extreme};
use super::plant::SETTLING_H;
use super::story::Story;
use super::{Review, Source};
use crate::store::{DayInHours, Reader, StoreError};

/// Milliseconds in a day (UTC).
const DAY_MS: i64 = 86_400_000;
/// A bloom is told by its readings up to so long after it was over, h.
const AFTER_H: f64 = 48.0;
/// An hour whose mean lies so many times as near to one end as to the other had a moment unlike the rest. Judgement: a bend of the day's
/// course makes two of it.
const SKEWED: f64 = 4.0;

/// Finds the days in brief.
#[derive(Debug)]
pub(super) struct Briefs<'a> {
    reader: &'a Reader,
    bench: &'a str,
    zone: Tz,
    longest: TimeDelta,
    limits: Limits,
    /// Between these.
    from: Time,
    until: Time,
    /// Spans that are told by readings.
    blooms: Vec<(Time, Time)>,
    /// The smooth days that were looked up, by their midnights, from the one before on.
    known: Vec<(i64, Option<DayInHours>)>,
}

impl<'a> Briefs<'a> {
    /// Those of a bench with these blooms between two instants; none where they are to be told by readings throughout.
    pub(super) fn new(
        source: &Source<'a>,
        bench: &'a str,
        limits: Limits,
        (from, until): (Time, Time),
        stories: &[Story],
    ) -> Self {
        let blooms = stories.iter().map(|story| {
            let ends = story.over.as_ref().map_or(until, |(over, _)| over.plus_hours(AFTER_H));
            (story.seen.plus_hours(-SETTLING_H), ends)
        });
        Self {
            reader: source.reader,
            bench,
            zone: source.site.timezone,
            longest: source.site.silent_after,
            limits,
            from,
            until,
            blooms: blooms.collect(),
            known: Vec::new(),
        }
    }

    /// The hours of a day in brief; `None` where its readings are to be read. To be asked in the order of time.
    pub(super) fn of(&mut self, midnight: Time) -> Result<Option<DayInHours>, StoreError> {
        let ms = midnight.unix_ms();
        let next = Time::from_unix_ms(ms + DAY_MS);
        let in_a_bloom = self.blooms.iter().any(|(from, until)| *from < next && midnight < *until);
        if midnight < self.from || next > self.until || in_a_bloom || !self.full_hours(midnight, next) {
            return Ok(None);
        }
        self.known.retain(|(known, _)| *known >= ms - DAY_MS);
        for day in [ms - DAY_MS, ms, ms + DAY_MS] {
            if self.known.iter().all(|(known, _)| *known != day) {
                let found = self.reader.day_in_hours(self.bench, Time::from_unix_ms(day))?;
                self.known.push((day, found.filter(|found| self.smooth(found))));
            }
        }
        let told = |found: &Option<DayInHours>| found.as_ref().is_some_and(|day| self.tells_of_limits(day));
        // between two others a day's first and last readings are no more than a silence apart from theirs
        let all = self.known.iter().all(|(_, found)| found.is_some());
        let found = self.known.iter().find(|(known, found)| *known == ms && all && told(found));
        Ok(found.and_then(|(_, found)| found.clone()))
    }

    /// Whether its hours tell how long each value lay beyond its limits.
    fn tells_of_limits(&self, day: &DayInHours) -> bool {
        self.limits.iter().all(|(of, bands)| {
            let bands = [bands.warning, bands.alarm];
            let bounds = bands.into_iter().flatten().flat_map(|band| [band.from, band.to]);
            day[of].iter().flatten().all(|hour| {
                let crossed = bounds.clone().any(|bound| hour.least < bound && bound < hour.greatest);
                let (below, above) = (hour.mean - hour.least, hour.greatest - hour.mean);
                !crossed || below.max(above) <= SKEWED * below.min(above)
            })
        })
    }

    /// Whether hours of UTC are hours of local clocks.
    fn full_hours(&self, from: Time, until: Time) -> bool {
        [from, until].into_iter().all(|time| {
            let offset = self.zone.offset_from_utc_datetime(&time.utc().naive_utc()).fix();
            offset.local_minus_utc() % 3_600 == 0
        })
    }

    /// Whether each sensor that said anything was heard all day, without a silence.
    fn smooth(&self, day: &DayInHours) -> bool {
        let longest_min = self.longest.num_minutes();
        Quantity::ALL.into_iter().all(|quantity| {
            let hours = &day[quantity];
            // on either side of the full hour
            hours.iter().all(Option::is_none)
                || hours
                    .iter()
                    .all(|hour| hour.is_some_and(|hour| 2 * i64::from(hour.silent_min) <= longest_min))
        })
    }
}

/// Reads when just the extremes of the whole, of the nights and of the days were, of which only the hour is known.
pub(super) fn date_extremes(review: &mut Review, reader: &Reader) -> Result<(), StoreError> {
    let bench = Arc::clone(&review.scope.bench);
    for part in [None, Some(Part::Night), Some(Part::Day)] {
        for of in Variable::pictured() {
            for high in [false, true] {
                let steps = review.steps.iter().zip(&mut review.climate);
                let figures = steps.filter(|(step, _)| part.is_none_or(|part| step.part == part));
                let furthest =
                    figures.filter_map(|(_, figures)| end_mut(figures, of, high)).reduce(|one, other| {
                        let further = if high { other.value > one.value } else { other.value < one.value };
                        if further { other } else { one }
                    });
                if let Some(extreme) = furthest.filter(|extreme| extreme.within_hour)
                    && let Some(found) = read_extreme(reader, &bench, of, extreme.time, high)?
                {
                    *extreme = found;
                }
            }
        }
    }
    Ok(())
}

fn end_mut(figures: &mut ClimateFigures, of: Variable, high: bool) -> Option<&mut Extreme> {
    let figures = &mut figures[of];
    if high { figures.highest.as_mut() } else { figures.lowest.as_mut() }
}

/// The first reading of an hour that is its least or greatest.
fn read_extreme(
    reader: &Reader,
    bench: &str,
    of: Variable,
    begins: Time,
    high: bool,
) -> Result<Option<Extreme>, StoreError> {
    let last = Time::from_unix_ms(begins.plus_hours(1.0).unix_ms() - 1);
    let mut furthest: Option<Extreme> = None;
    let mut take = |time: Time, value: f64| {
        if furthest.is_none_or(|known| if high { value > known.value } else { value < known.value }) {
            furthest = Some(Extreme { value, time, within_hour: false });
        }
    };
    match of {
        Variable::Measured(quantity) => reader.series(bench, quantity, begins, last, take)?,
        Variable::Derived(derived) => {
            let mut read: Vec<(Time, usize, f64)> = Vec::new();
            for (part, quantity) in derived.parts().into_iter().enumerate() {
                reader.series(bench, quantity, begins, last, |time, value| read.push((time, part, value)))?;
            }
            read.sort_by_key(|(time, part, _)| (*time, *part));
            let mut newest = [None; 2];
            for (place, (time, part, value)) in read.iter().enumerate() {
                newest[*part] = Some(*value);
                let all_of_instant = read.get(place + 1).is_none_or(|next| next.0 > *time);
                if let ([Some(one), Some(other)], true) = (newest, all_of_instant)
                    && let Some(value) = derived.of_air(one, other)
                {
                    take(*time, value);
                }
            }
        }
    }
    Ok(furthest)
}
