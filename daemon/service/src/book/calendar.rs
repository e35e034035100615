//! Windows and jobs as an iCalendar file (RFC 5545) that a phone's calendar imports or subscribes to.
//!
//! Instants are written in UTC and days as dates, so that no time zone needs to be defined in the file. An entry's UID follows
//! from what it speaks of: imported again, it takes the place of the older one.

use bloom_model::event::Window;
use bloom_model::forecast::Tidings;
use bloom_model::time::Time;
use bloom_text::{percent, when};
use chrono::{Days, NaiveDate};
use icalendar::{Calendar, Component, Event, EventLike, Property};

use super::plan::Refusal;
use super::tonight::{Sheet, sheets};
use super::{FruitView, HouseBook, LotView};
use bloom_model::book::storage::Standing;

/// One entry of the calendar.
#[derive(Debug, Clone, PartialEq)]
pub struct Job {
    /// What it speaks of, the same each time.
    pub uid: String,
    /// When.
    pub span: Span,
    /// In a line.
    pub summary: String,
    /// At length.
    pub description: String,
}

/// When a job is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Span {
    /// Between two instants.
    Hours(Window),
    /// On local days, both included.
    Days(NaiveDate, NaiveDate),
}

/// The windows and jobs of the house: openings ahead, tonight's pollination, pollen to collect, fruit to look at, harvest and
/// sowing, lots that come to their figure.
///
/// # Errors
/// If the pedigree in the book bites its own tail.
pub fn jobs(
    house: &HouseBook,
    fruit: &[FruitView],
    lots: &[LotView],
    now: Time,
) -> Result<Vec<Job>, Refusal> {
    let mut jobs = Vec::new();
    for sheet in sheets(house, None, now)? {
        of_bloom(house, &sheet, &mut jobs);
    }
    for view in fruit {
        of_fruit(house, view, now, &mut jobs);
    }
    for lot in lots.iter().filter(|lot| lot.lot.left > 0 && lot.standing() != Standing::Past) {
        if let Some((shortest, longest)) = lot.keeps.as_ref().and_then(|keeps| keeps.good_until) {
            let due = if shortest > now { shortest } else { longest };
            let day = due.local_date(house.zone);
            jobs.push(Job {
                uid: format!("pollen-{}", lot.lot.name),
                span: Span::Days(day, day),
                summary: format!("Use pollen {}", lot.lot.name),
                description: format!(
                    "{} portions left. The shortest published figure is reached on {}, the longest on {}.",
                    lot.lot.left,
                    when::date(shortest, house.zone),
                    when::date(longest, house.zone)
                ),
            });
        }
    }
    Ok(jobs)
}

fn of_bloom(house: &HouseBook, sheet: &Sheet, jobs: &mut Vec<Job>) {
    let who = sheet
        .plant
        .as_ref()
        .map_or_else(|| sheet.bench.to_string(), |plant| format!("{} ({plant})", sheet.bench));
    if let Some(told) = sheet.outlook {
        // one that has most likely stopped has no days
        if let Tidings::Opens { dates: opens, never, .. } = told.outlook.tidings() {
            let never = never
                .map_or(String::new(), |never| format!(" Chance that it never opens: {}.", percent(never)));
            jobs.push(Job {
                uid: format!("opens-{}", sheet.bloom),
                span: Span::Days(opens.earliest, opens.latest),
                summary: format!("{who} opens, likely {}", when::short_date(opens.likely, false)),
                description: format!(
                    "If it opens, four times in five in these days.{never} Somebody there in the evenings; pollen at hand. \
                     Forecast of {}.",
                    when::moment(told.forecast_at, house.zone)
                ),
            });
        }
        return;
    }
    let Some(windows) = sheet.windows else { return };
    if !sheet.pollinated && windows.receptive.until > sheet.now {
        jobs.push(Job {
            uid: format!("pollinate-{}", sheet.bloom),
            span: Span::Hours(windows.receptive),
            summary: format!("Pollinate {who}"),
            description: sheet.thaw.as_ref().map_or_else(
                || "No pollen in the bank is fresh enough and unrelated. Ask elsewhere.".to_owned(),
                |thaw| format!("Best pollen: {}, out at {}.", thaw.lot, when::moment(thaw.at, house.zone)),
            ),
        });
    }
    if !sheet.collected && windows.collect.until > sheet.now {
        jobs.push(Job {
            uid: format!("collect-{}", sheet.bloom),
            span: Span::Hours(windows.collect),
            summary: format!("Collect pollen of {who}"),
            description: format!(
                "Most likely about {}. Trays in at the end of the first day.",
                when::moment(windows.collect_likely, house.zone)
            ),
        });
    }
}

fn of_fruit(house: &HouseBook, view: &FruitView, now: Time, jobs: &mut Vec<Job>) {
    let name = &view.cross.name;
    let parents = format!("{} × {}", view.cross.mother, view.cross.father);
    if let Some(harvest) = view.harvest {
        jobs.push(Job {
            uid: format!("harvest-{name}"),
            span: Span::Days(harvest.from.local_date(house.zone), harvest.until.local_date(house.zone)),
            summary: format!("Harvest {name} ({parents})"),
            description:
                "From the top down, as the berries soften. Gloves and goggles: crystals in the flesh."
                    .to_owned(),
        });
    } else if let Some(ripening) = view.ripening.as_ref().filter(|_| view.cross.fruit.set.is_some()) {
        let (earliest, likely) = (ripening.ripe.earliest, ripening.ripe.likely);
        for (kind, time, summary) in [
            ("look", earliest, format!("Look at the fruit of {name} from now on ({parents})")),
            ("ripe", likely, format!("Fruit of {name} likely ripe ({parents})")),
        ] {
            let day = time.local_date(house.zone);
            jobs.push(Job {
                uid: format!("{kind}-{name}"),
                span: Span::Days(day, day),
                summary,
                description: format!(
                    "Ripe {} after pollination by the figures: {} to {}.",
                    when::long_spans(ripening.spread_d),
                    when::date(earliest, house.zone),
                    when::date(ripening.ripe.latest, house.zone)
                ),
            });
        }
    }
    if view.unsown > 0 {
        let counted = view.cross.fruit.seeds.last().map_or(now, |count| count.time);
        let day = counted.local_date(house.zone);
        jobs.push(Job {
            uid: format!("sow-{name}"),
            span: Span::Days(day, day + Days::new(7)),
            summary: format!("Sow {} seeds of {name} fresh", view.unsown),
            description: "Cleaned of all pulp; dry storage kills the seed quickly. Gloves.".to_owned(),
        });
    }
}

/// The calendar file.
pub fn file(site: &str, jobs: &[Job], now: Time) -> String {
    let mut calendar = Calendar::empty();
    for (name, value) in
        [("VERSION", "2.0"), ("PRODID", "-//anthesisd//bloom book//EN"), ("CALSCALE", "GREGORIAN")]
    {
        calendar.append_property(Property::new(name, value));
    }
    calendar.name(&format!("anthesisd {site}"));
    for job in jobs {
        let mut event = Event::with_uid(&format!("{}@{site}.anthesisd", job.uid));
        event.timestamp(now.utc()).summary(&job.summary).description(&job.description);
        match job.span {
            Span::Hours(window) => event.starts(window.from.utc()).ends(window.until.utc()),
            // the end of a day is the day after (RFC 5545, section 3.6.1)
            Span::Days(from, until) => event.starts(from).ends(until + Days::new(1)),
        };
        calendar.push(event.done());
    }
    calendar.done().to_string()
}
