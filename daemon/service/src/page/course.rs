//! The course of a bud as one picture in place of a bulletin a day: growth a day, height, and how the window of its opening narrowed
//! morning by morning.

use bloom_model::forecast::OpeningDates;
use bloom_model::quantity::measure::Measure;
use bloom_model::spec::Units;
use bloom_model::time::Time;
use bloom_text::{dates, figure, when};
use chrono::{Datelike, Days, NaiveDate, Weekday};
use chrono_tz::Tz;
use maud::{Markup, html};

use super::mornings::Morning;
use super::sketch::{Field, px, step};

/// Width of the picture, px.
const WIDTH: f64 = 360.0;
/// Left and right end of its fields, px.
const ENDS: (f64, f64) = (34.0, 352.0);
/// Lower and upper end of the field of growth, and of height, px.
const GROWTH: (f64, f64) = (78.0, 20.0);
const HEIGHT: (f64, f64) = (166.0, 108.0);
/// The windows begin there, px.
const WINDOWS: f64 = 196.0;
/// Room of all windows at most, and of one, px.
const ROWS: (f64, f64) = (150.0, 8.0);
/// Days of windows that are shown beyond the newest at most: an early window reaches for weeks, and would press all others together.
const BEYOND_D: u64 = 10;

/// Draws the mornings of a bloom, oldest first; nothing where there is none.
pub(super) fn drawn(mornings: &[Morning], units: Units, zone: Tz) -> Markup {
    let (Some(first), Some(last)) = (mornings.first(), mornings.last()) else { return html! {} };
    let day = |morning: &Morning| morning.time.local_date(zone);
    let newest = mornings.iter().rev().find_map(|morning| morning.opens);
    let beyond = newest.map_or(day(last), |opens| opens.latest.max(day(last)));
    let latest = mornings.iter().filter_map(|morning| morning.opens).map(|opens| opens.latest).max();
    let until = latest.unwrap_or(beyond).min(beyond + Days::new(BEYOND_D)) + Days::new(1);
    let noon = |date: NaiveDate| Time::at_local_hour(date, 0.0, zone);
    let field = |y: (f64, f64), top: f64, low: f64| Field {
        x: ENDS,
        y,
        span: (noon(day(first)), noon(until)),
        values: (low, top),
    };
    let growth: Vec<(Time, f64)> = mornings
        .iter()
        .filter_map(|morning| Some((morning.time, Measure::Advance.shown(units, morning.growth_m_day?))))
        .collect();
    let heights: Vec<(Time, f64)> = mornings
        .iter()
        .filter_map(|morning| Some((morning.time, Measure::Length.shown(units, morning.height_m?))))
        .collect();
    let rows = mornings.iter().filter(|morning| morning.opens.is_some()).count();
    let row = (ROWS.0 / rows.max(1) as f64).min(ROWS.1);
    let bottom = WINDOWS + row * rows as f64;
    let axis = field((bottom, WINDOWS), 1.0, 0.0);
    let words = words(first, last, mornings, units, zone);
    html! {
        svg.sketch #course viewBox={ "0 0 " (WIDTH) " " (px(bottom + 22.0)) } role="img" aria-label=(words) {
            @if let Some(opens) = newest {
                @let (from, end) = (axis.at(noon(opens.earliest)), axis.at(noon(opens.latest + Days::new(1))));
                rect.band x=(px(from)) y=(px(GROWTH.1)) width=(px(end - from)) height=(px(bottom - GROWTH.1)) {}
            }
            @for date in labelled(day(first), until) {
                line.rule x1=(px(axis.at(noon(date)))) x2=(px(axis.at(noon(date)))) y1=(px(GROWTH.1)) y2=(px(bottom)) {}
                text x=(px(axis.at(noon(date)))) y=(px(bottom + 16.0)) text-anchor="middle" { (when::short_date(date, false)) }
            }
            text x="4" y="12" { "growth, " (Measure::PerDay.unit(units)) }
            (levels(&growth, GROWTH, true, &field))
            text x="4" y=(px(HEIGHT.1 - 8.0)) { "height, " (Measure::Length.unit(units)) }
            (levels(&heights, HEIGHT, false, &field))
            text x="4" y=(px(WINDOWS - 8.0)) { "opens in these days, as each morning said" }
            @for (place, (time, opens)) in mornings.iter().filter_map(|morning| Some((morning.time, morning.opens?))).enumerate() {
                @let y = WINDOWS + row * (place as f64 + 0.5);
                @let (from, end) = (axis.at(noon(opens.earliest)), axis.at(noon(opens.latest + Days::new(1))));
                line.window x1=(px(from)) x2=(px(end)) y1=(px(y)) y2=(px(y)) stroke-width=(px((row * 0.7).max(1.5))) {}
                line.likely-day x1=(px(axis.at(noon(opens.likely)))) x2=(px(axis.at(noon(opens.likely + Days::new(1))))) y1=(px(y)) y2=(px(y)) stroke-width=(px((row * 0.7).max(1.5))) {}
                circle.morning cx=(px(axis.at(time))) cy=(px(y)) r=(px((row * 0.3).clamp(1.0, 2.4))) {}
            }
        }
        p.note { "Each bar: the days in which it opens, if it opens, four times in five; its dark part is the likely day; the dot is the morning that said so." }
        details #mornings {
            summary { "Each morning in figures" }
            table.told-mornings {
                thead { tr { th scope="col" { "Morning" } th scope="col" { "Growth" } th scope="col" { "Height" } th scope="col" { "Opens" } } }
                tbody {
                    @for morning in mornings.iter().rev() {
                        tr {
                            th scope="row" { (when::short_date(day(morning), false)) }
                            td { (morning.growth_m_day.map_or("not known".to_owned(), |m| figure(Measure::PerDay, units, m / 24.0))) }
                            td { (morning.height_m.map_or("not known".to_owned(), |m| figure(Measure::Length, units, m))) }
                            td { (morning.opens.map_or("not told".to_owned(), |opens| dates(&opens))) }
                        }
                    }
                }
            }
        }
    }
}

/// A line with a level or two; growth from nought.
fn levels(
    line: &[(Time, f64)],
    y: (f64, f64),
    from_nought: bool,
    field: &impl Fn((f64, f64), f64, f64) -> Field,
) -> Markup {
    let least = line.iter().map(|(_, value)| *value).fold(f64::INFINITY, f64::min);
    let most = line.iter().map(|(_, value)| *value).fold(f64::NEG_INFINITY, f64::max);
    if !most.is_finite() {
        return html! {};
    }
    let low = if from_nought { least.min(0.0) } else { least };
    let by = step((most - low).max(0.05), 2.0);
    let (low, top) = ((low / by).floor() * by, (most / by).ceil() * by);
    let top = if top > low { top } else { low + by };
    let field = field(y, top, low);
    let decimals = usize::from(by < 1.0);
    let levels = (0..=((top - low) / by).round() as u32).map(|number| low + f64::from(number) * by);
    html! {
        @for value in levels {
            line.rule x1=(px(ENDS.0)) x2=(px(ENDS.1)) y1=(px(field.of(value))) y2=(px(field.of(value))) {}
            text x=(px(ENDS.0 - 5.0)) y=(px(field.of(value) + 4.0)) text-anchor="end" { (format!("{:.decimals$}", value + 0.0)) }
        }
        polyline.course points=(field.points(line)) {}
        @if let Some((time, value)) = line.last() { circle.last cx=(px(field.at(*time))) cy=(px(field.of(*value))) r="3" {} }
    }
}

/// The dates with words below: Mondays, or every few days of a short span.
fn labelled(from: NaiveDate, until: NaiveDate) -> Vec<NaiveDate> {
    let days = (until - from).num_days();
    let mut dates = from.iter_days().take_while(|date| *date <= until);
    if days > 56 {
        return dates.filter(|date| date.day() == 1 || date.day() == 15).collect();
    }
    if days > 14 {
        let mondays: Vec<NaiveDate> = dates.filter(|date| date.weekday() == Weekday::Mon).collect();
        let every = if days > 35 { 2 } else { 1 };
        return mondays.into_iter().step_by(every).collect();
    }
    let every = if days > 5 { 3 } else { 1 };
    dates.by_ref().step_by(every).take(6).collect()
}

/// What is to be seen, for those who do not see it.
fn words(first: &Morning, last: &Morning, mornings: &[Morning], units: Units, zone: Tz) -> String {
    let mut said = format!(
        "{} mornings in bud since {}.",
        mornings.len(),
        when::short_date(first.time.local_date(zone), false)
    );
    if let Some(growth) = last.growth_m_day {
        said.push_str(&format!(" Growth now {}.", figure(Measure::PerDay, units, growth / 24.0)));
    }
    let windows: Vec<OpeningDates> = mornings.iter().filter_map(|morning| morning.opens).collect();
    if let (Some(first), Some(last)) = (windows.first(), windows.last()) {
        said.push_str(&format!(" It opens, as first said, {}; as said last, {}.", dates(first), dates(last)));
    }
    said
}

#[cfg(test)]
mod tests {
    use super::*;

    fn morning(day: u32, growth_cm: f64, opens: Option<(u32, u32, u32)>) -> Morning {
        let date = |day| NaiveDate::from_ymd_opt(2027, 5, day).unwrap_or_default();
        Morning {
            time: Time::at_local_hour(date(day), 7.0, chrono_tz::UTC),
            height_m: Some(1.0 + 0.05 * f64::from(day)),
            growth_m_day: Some(growth_cm / 100.0),
            opens: opens.map(|(earliest, likely, latest)| OpeningDates {
                earliest: date(earliest),
                likely: date(likely),
                latest: date(latest),
            }),
        }
    }

    #[test]
    fn each_window_is_a_bar_and_the_newest_is_said() {
        let mornings =
            [morning(1, 9.0, Some((12, 20, 30))), morning(2, 8.0, None), morning(3, 7.0, Some((14, 17, 20)))];
        let picture = drawn(&mornings, Units::Metric, chrono_tz::UTC).into_string();
        assert_eq!(
            picture.matches("class=\"window\"").count(),
            2,
            "a bud that has stopped has no window: {picture}"
        );
        assert!(picture.contains("as said last, likely 17 May (14 to 20 May)."), "{picture}");
        assert!(picture.contains("Growth now 7.0 cm/d"), "{picture}");
        assert_eq!(drawn(&[], Units::Metric, chrono_tz::UTC).into_string(), "");
    }

    #[test]
    fn a_long_bud_has_few_words_on_its_axis() {
        let date = |month, day| NaiveDate::from_ymd_opt(2027, month, day).unwrap_or_default();
        for until in [date(5, 2), date(5, 9), date(5, 28), date(6, 20), date(8, 20)] {
            let labelled = labelled(date(5, 1), until);
            assert!((1..=8).contains(&labelled.len()), "{until}: {labelled:?}");
        }
    }
}
