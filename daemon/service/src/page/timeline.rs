//! The night in the order of its hours: what is to be done when, at every bench that is open or may open tonight.

use std::sync::Arc;

use bloom_model::time::Time;
use bloom_text::{outlook, percent, when};
use chrono_tz::Tz;
use maud::{Markup, html};

use super::frame::instant;
use crate::book::Sheet;

/// A chance of tonight below which a bud is no matter of tonight. Judgement: its morning says so as well.
const MAY_OPEN: f64 = 0.05;
/// Hours behind and ahead of now that the timeline shows.
const SHOWN_H: (f64, f64) = (6.0, 36.0);

/// Whether a bench is open or may open tonight. A bud whose forecast is not of this night is one from its earliest day on.
pub(super) fn is_tonights(sheet: &Sheet, zone: Tz) -> bool {
    if sheet.opened.is_some() {
        return true;
    }
    let Some(told) = sheet.outlook else { return false };
    let Some(opens) = told.outlook.dates() else { return false };
    let likely_enough = sheet.of_this_night && told.outlook.probability_tonight >= MAY_OPEN;
    likely_enough || opens.earliest <= sheet.now.local_date(zone)
}

/// An hour of the night.
#[derive(Debug, Clone, PartialEq)]
struct Moment {
    time: Time,
    bench: Arc<str>,
    what: String,
}

/// The hours, with now among them; nothing where no hour is known.
pub(super) fn drawn(sheets: &[&Sheet], now: Time, zone: Tz) -> Markup {
    let (from, until) = (now.plus_hours(-SHOWN_H.0), now.plus_hours(SHOWN_H.1));
    let mut moments: Vec<Moment> = sheets.iter().flat_map(|sheet| moments(sheet, zone)).collect();
    moments.retain(|moment| (from..until).contains(&moment.time));
    moments.sort_by(|one, other| (one.time, &one.bench).cmp(&(other.time, &other.bench)));
    let (past, ahead) = moments.split_at(moments.partition_point(|moment| moment.time <= now));
    let row = |moment: &Moment| {
        html! {
            li {
                (instant(moment.time, &when::day_clock(moment.time, zone)))
                a href={ "#" (moment.bench) } { span { (moment.bench) ": " (moment.what) } }
            }
        }
    };
    html! {
        @if !moments.is_empty() {
            ol.timeline {
                @for moment in past { (row(moment)) }
                li.now { (instant(now, &when::day_clock(now, zone))) span { "Now" } }
                @for moment in ahead { (row(moment)) }
            }
        }
    }
}

fn moments(sheet: &Sheet, zone: Tz) -> Vec<Moment> {
    let mut moments = Vec::new();
    let mut add = |time: Time, what: String| {
        moments.push(Moment { time, bench: Arc::clone(&sheet.bench), what });
    };
    let (best_from, _) = sheet.best_hour;
    if let Some(opened) = sheet.opened {
        add(opened, "first crack".to_owned());
        if let Some(full) = sheet.full_open {
            add(full, "fully open".to_owned());
        }
        if let Some(windows) = sheet.windows {
            if !sheet.pollinated {
                add(windows.receptive.from, "pollinate from now on".to_owned());
                if let Some(best) = sheet.best {
                    add(
                        best.from,
                        format!("best hours to pollinate, until {}", when::clock(best.until, zone)),
                    );
                }
                if let Some(thaw) = &sheet.thaw {
                    let verb = if thaw.frozen { "thaw one portion of" } else { "take out" };
                    add(thaw.at, format!("{verb} {}", thaw.lot));
                }
                add(windows.receptive.until, "pollination hours end".to_owned());
            }
            if !sheet.collected {
                add(windows.collect.from, "own pollen from now on: trays and vials".to_owned());
                add(windows.collect_likely, "own pollen most likely".to_owned());
                add(windows.collect.until, "own pollen ends".to_owned());
            }
        }
    } else if let Some(told) = sheet.outlook {
        let chance = percent(told.outlook.probability_tonight);
        let tonight = if sheet.of_this_night {
            format!("if it opens tonight ({chance})")
        } else {
            "if it opens tonight".to_owned()
        };
        let best = Time::at_local_hour(sheet.now.local_date(zone), best_from, zone);
        add(best, format!("{tonight}: best hours to pollinate, {}", when::hours(sheet.best_hour)));
    }
    moments
}

/// A bud that is no matter of tonight, in a line: `east-5: opens likely 3 Jun (1 to 7 Jun)`.
pub(super) fn later(sheet: &Sheet) -> String {
    let said = sheet.outlook.map(|told| outlook(&told.outlook, false));
    format!("{}: {}", sheet.bench, said.unwrap_or_else(|| "not forecast yet".to_owned()))
}
