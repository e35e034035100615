//! The forecast on published blooms, each one's own share in the profile's numbers taken out.
//!
//! Mornings are scored as they come: every one from the first after the third measurement to that of the opening.

use std::collections::BTreeMap;
use std::fmt;
use std::io;
use std::path::Path;

use bloom_model::event::Details;
use bloom_model::profile::Profile;
use bloom_model::quantity::Quantity;
use bloom_model::reading::{BenchNumber, Observed, Reading};
use bloom_model::sign::{PlainSign, Sign};
use bloom_model::time::Time;
use chrono::{Days, NaiveDate, NaiveDateTime, NaiveTime, TimeZone};
use serde::Deserialize;

use super::mornings::{Ahead, Stands, mean};
use crate::options::SeasonOptions;

const ZONE: chrono_tz::Tz = chrono_tz::America::New_York;
/// Hours at which a measurement was taken where the source gives a word or nothing.
const HOURS: [(&str, u32); 4] = [("", 12), ("morning", 8), ("afternoon", 15), ("evening", 19)];
/// Measurements that a forecast is asked of.
const LEAST_MEASURED: usize = 3;

/// A published bloom: what its file's header says of the opening, and of signs.
struct Source {
    file: &'static str,
    opened: &'static str,
    signs: &'static [(PlainSign, &'static str)],
}

/// Local times. Where a header gives a word only, the hour is a reading of that word.
const SOURCES: [Source; 7] = [
    Source { file: "disney_2004", opened: "2004-07-16 15:00", signs: &[] },
    Source {
        file: "disney_2005",
        opened: "2005-09-03 08:00",
        signs: &[(PlainSign::LastBractDropped, "2005-08-26 12:00")],
    },
    Source {
        file: "fairchild_mrstinky_2001",
        opened: "2001-05-14 18:00",
        signs: &[(PlainSign::EdgeLoose, "2001-05-10 08:00")],
    },
    Source {
        file: "osu_woody_2013",
        opened: "2013-05-14 13:00",
        signs: &[(PlainSign::BractDropped, "2013-05-11 12:00")],
    },
    Source { file: "rbge_newreekie_2015", opened: "2015-06-26 16:00", signs: &[] },
    Source {
        file: "selby_large_1999",
        opened: "1999-05-20 18:00",
        signs: &[(PlainSign::LastBractDropped, "1999-05-17 14:00")],
    },
    Source {
        file: "uconn_2008",
        opened: "2008-07-08 17:00",
        signs: &[(PlainSign::EdgeLoose, "2008-07-03 12:00")],
    },
];

#[derive(Debug, Deserialize)]
struct Row {
    date: NaiveDate,
    time: String,
    height_cm: f64,
}

/// One published bloom, ready to be told.
struct Published {
    file: &'static str,
    opened: NaiveDateTime,
    taped: Vec<(NaiveDateTime, f64)>,
    signs: Vec<(NaiveDateTime, PlainSign)>,
}

/// One morning's forecast of a published bloom.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PublishedMorning {
    /// Days to the opening.
    pub days_left: i64,
    /// The window, where there was one.
    pub window: Option<Ahead>,
    /// The chance given to the day, given that it opens.
    pub tonight: f64,
    /// The chance given that it never opens.
    pub never: f64,
    /// How tall it was said to stand, against the last height before the opening.
    pub height: Option<Stands>,
}

/// The table.
#[derive(Debug, Clone, PartialEq)]
pub struct PublishedTable {
    /// Each bloom with its mornings.
    pub blooms: Vec<(&'static str, Vec<PublishedMorning>)>,
}

fn invalid(path: &Path, why: impl fmt::Display) -> io::Error {
    io::Error::new(io::ErrorKind::InvalidData, format!("{}: {why}", path.display()))
}

fn read(folder: &Path, source: &Source, signs: bool) -> io::Result<Published> {
    let path = folder.join(format!("{}.csv", source.file));
    let wrong = |why: &dyn fmt::Display| invalid(&path, why);
    let instant =
        |text: &str| NaiveDateTime::parse_from_str(text, "%Y-%m-%d %H:%M").map_err(|error| wrong(&error));
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .flexible(true)
        .from_path(&path)
        .map_err(|error| wrong(&error))?;
    let opened = instant(source.opened)?;
    let mut taped = Vec::new();
    for row in reader.deserialize() {
        let row: Row = row.map_err(|error| wrong(&error))?;
        let word = HOURS.iter().find(|(word, _)| *word == row.time);
        let time = match word {
            Some((_, hour)) => NaiveTime::from_hms_opt(*hour, 0, 0).unwrap_or_default(),
            None => NaiveTime::parse_from_str(&row.time, "%H:%M").map_err(|error| wrong(&error))?,
        };
        let at = row.date.and_time(time);
        if at <= opened {
            taped.push((at, row.height_cm / 100.0));
        }
    }
    let mut booked = Vec::new();
    for (sign, at) in source.signs.iter().filter(|_| signs) {
        booked.push((instant(at)?, *sign));
    }
    // a first height of nothing is the day on which the bud came through the soil
    if let Some((at, _)) = taped.first().filter(|(_, height)| *height <= 0.0) {
        booked.insert(0, (*at, PlainSign::Emerged));
    }
    Ok(Published { file: source.file, opened, taped, signs: booked })
}

fn utc(local: NaiveDateTime) -> Time {
    let at = ZONE.from_local_datetime(&local).earliest().unwrap_or_else(|| ZONE.from_utc_datetime(&local));
    Time::from_unix_ms(at.timestamp_millis())
}

impl Published {
    /// Runs the bloom through a bench that has a tape and nothing else.
    fn run(&self, profile: &Profile) -> Vec<PublishedMorning> {
        let options = SeasonOptions { tip: None, rim: None, ..SeasonOptions::default() };
        let mut site = super::site_in(&options, profile, ZONE);
        let mut told: Vec<(Time, Reading)> = Vec::new();
        let reading = |at: NaiveDateTime, observed| {
            let time = utc(at);
            (time, Reading { bench: BenchNumber(0), time, observed })
        };
        told.extend(self.signs.iter().map(|(at, sign)| reading(*at, Observed::Sign(Sign::Plain(*sign)))));
        told.extend(
            self.taped.iter().map(|(at, metres)| reading(*at, Observed::Value(Quantity::Height, *metres))),
        );
        told.sort_by_key(|(time, _)| *time);

        let mut events = Vec::new();
        for (time, reading) in &told {
            site.pass_time(*time, &mut events);
            site.take(reading, &mut events);
        }
        site.pass_time(utc(self.opened), &mut events);
        let said: BTreeMap<NaiveDate, _> = events
            .iter()
            .filter_map(|event| match &event.details {
                Details::Morning(morning) => {
                    let today = event.time.local_date(ZONE);
                    let said = morning.outlook?;
                    let window = Ahead::of(&said.opens, today);
                    Some((today, (window, said)))
                }
                _ => None,
            })
            .collect();

        let Some((third, _)) = self.taped.get(LEAST_MEASURED - 1) else { return Vec::new() };
        let morning = NaiveTime::from_hms_opt(super::MORNING_HOUR, 0, 0).unwrap_or_default();
        let first = third.date() + Days::new(u64::from(third.time() > morning));
        first
            .iter_days()
            .take_while(|day| day.and_time(morning) < self.opened)
            .map(|day| {
                let (window, said) = said.get(&day).copied().unzip();
                PublishedMorning {
                    days_left: (self.opened.date() - day).num_days(),
                    window,
                    tonight: said.map_or(0.0, |said| said.probability_tonight),
                    never: said.map_or(0.0, |said| said.probability_never),
                    height: said
                        .and_then(|said| said.height_at_opening_m)
                        .zip(self.taped.last())
                        .map(|(said, (_, stood_m))| Stands { said, stood_m: *stood_m }),
                }
            })
            .collect()
    }

    /// The profile without this bloom's own share: the middle of each spread to which it contributed is moved back by its
    /// distance from that middle over the number of the others.
    fn left_out_of(&self, profile: &Profile) -> Profile {
        const OF: f64 = 8.0;
        let mut left = profile.clone();
        let rates: Vec<(f64, f64)> = self
            .taped
            .windows(2)
            .filter_map(|pair| {
                let days = (pair[1].0 - pair[0].0).num_minutes() as f64 / 1440.0;
                let middle = (self.opened - pair[0].0).num_minutes() as f64 / 1440.0 - days / 2.0;
                (days >= 0.6).then(|| (middle, (pair[1].1 - pair[0].1) * 100.0 / days))
            })
            .collect();
        let peak = rates.iter().map(|(_, rate)| *rate).fold(0.0, f64::max);
        let Some((_, tallest)) = self.taped.last() else { return left };
        let Some((_, last)) = rates.last() else { return left };
        let slowing = rates.iter().rev().take_while(|(_, rate)| *rate < 0.5 * peak).last();
        let began = self.taped.first().map(|(at, _)| (self.opened - *at).num_minutes() as f64 / 1440.0);
        let moved = |low: &mut f64, likely: &mut f64, high: &mut f64, own: f64| {
            let by = (own.max(0.01) / *likely).ln() / (1.0 - OF);
            // one far bloom does not carry the others' middle further than a third
            let factor = by.exp().clamp(0.75, 1.33);
            *low *= factor;
            *likely *= factor;
            *high *= factor;
        };
        let l = &mut left;
        moved(
            &mut l.peak_growth_low_cm_day,
            &mut l.peak_growth_likely_cm_day,
            &mut l.peak_growth_high_cm_day,
            peak,
        );
        moved(
            &mut l.height_by_peak_low_d,
            &mut l.height_by_peak_likely_d,
            &mut l.height_by_peak_high_d,
            tallest * 100.0 / peak,
        );
        moved(
            &mut l.last_growth_share_low,
            &mut l.last_growth_share_likely,
            &mut l.last_growth_share_high,
            (last / peak).max(0.05),
        );
        if let Some((before, _)) = slowing {
            moved(
                &mut l.slowing_to_opening_earliest_d,
                &mut l.slowing_to_opening_likely_d,
                &mut l.slowing_to_opening_latest_d,
                *before,
            );
        }
        if let Some(began) = began.filter(|days| *days < 30.0) {
            moved(
                &mut l.tall_to_opening_earliest_d,
                &mut l.tall_to_opening_likely_d,
                &mut l.tall_to_opening_latest_d,
                began - 3.0,
            );
        }
        left
    }
}

impl PublishedTable {
    /// Runs every published bloom in the folder, with or without the signs its source tells of.
    ///
    /// # Errors
    /// When a file cannot be read or is not as expected; the text names it.
    pub fn of(folder: &Path, profile: &Profile, signs: bool) -> io::Result<Self> {
        let blooms = SOURCES.iter().map(|source| {
            let bloom = read(folder, source, signs)?;
            Ok((bloom.file, bloom.run(&bloom.left_out_of(profile))))
        });
        Ok(Self { blooms: blooms.collect::<io::Result<_>>()? })
    }

    /// The mean over blooms of each bloom's mean over its mornings.
    pub fn by_plant(&self, figure: impl Fn(&PublishedMorning) -> f64) -> f64 {
        mean(self.blooms.iter().map(|(_, mornings)| mean(mornings.iter().map(&figure))))
    }

    /// The mean interval score; a morning without a window scores as if it had said 0 to 60 days.
    pub fn score(&self) -> f64 {
        self.by_plant(|morning| morning.window.map_or(60.0, |window| window.score(morning.days_left)))
    }

    /// The constant window, fitted with hindsight, whose mean score is least.
    pub fn best_constant(&self) -> (Ahead, f64) {
        let mut best = (Ahead { earliest: 0, likely: 0, latest: 0 }, f64::INFINITY);
        for earliest in 0..30 {
            for latest in earliest..60 {
                let window = Ahead { earliest, likely: earliest.midpoint(latest), latest };
                let score = self.by_plant(|morning| window.score(morning.days_left));
                if score < best.1 {
                    best = (window, score);
                }
            }
        }
        best
    }
}

fn held(morning: &PublishedMorning) -> bool {
    morning.window.is_some_and(|window| window.holds(morning.days_left))
}

impl fmt::Display for PublishedTable {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(
            f,
            "bloom                      mornings  score d  held %  last two  days left: window (likely), chance, chance that it never opens"
        )?;
        for (file, mornings) in &self.blooms {
            let score = mean(
                mornings.iter().map(|morning| morning.window.map_or(60.0, |w| w.score(morning.days_left))),
            );
            let share = 100.0 * mean(mornings.iter().map(|morning| f64::from(u8::from(held(morning)))));
            let last_two = mornings.iter().rev().take(2).all(held);
            write!(
                f,
                "{file:<27}{:>8}{score:>9.1}{share:>8.0}{:>10} ",
                mornings.len(),
                if last_two { "held" } else { "missed" }
            )?;
            for morning in mornings {
                match morning.window {
                    Some(window) => write!(
                        f,
                        "  {}: {}-{} ({}), {:.2}, {:.2}",
                        morning.days_left,
                        window.earliest,
                        window.latest,
                        window.likely,
                        morning.tonight,
                        morning.never
                    )?,
                    None => write!(f, "  {}: none", morning.days_left)?,
                }
            }
            writeln!(f)?;
        }
        let (constant, constant_score) = self.best_constant();
        write!(
            f,
            "mean score {:.2} d; best constant window with hindsight ({} to {} days) {constant_score:.2} d: ratio {:.2}; the window held the opening on {:.0} % of mornings",
            self.score(),
            constant.earliest,
            constant.latest,
            self.score() / constant_score,
            100.0 * self.by_plant(|morning| f64::from(u8::from(held(morning))))
        )?;
        let heights =
            self.blooms.iter().flat_map(|(_, mornings)| mornings).filter_map(|one| one.height.as_ref());
        write!(f, "\nheight at opening: {}", Stands::summary(heights))
    }
}
