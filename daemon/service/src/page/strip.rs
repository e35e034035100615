//! A bud in one line of the overview: its growth over the last ten days, and its window on a calendar that is the same for all benches.

use bloom_model::forecast::OpeningDates;
use bloom_model::quantity::measure::Measure;
use bloom_model::spec::Units;
use bloom_model::time::Time;
use bloom_text::{dates, figure, when};
use chrono::{Datelike, Days, NaiveDate, Weekday};
use chrono_tz::Tz;
use maud::{Markup, html};

use super::mornings::Morning;
use super::sketch::{Field, px};

/// Growth is drawn over so many days.
pub(super) const GROWTH_D: u64 = 10;
/// The calendar shows so many days from today on.
const AHEAD_D: u64 = 28;
/// Width and height, px.
const SIZE: (f64, f64) = (300.0, 40.0);
/// Left and right end of the curve, and of the calendar, px.
const CURVE: (f64, f64) = (3.0, 88.0);
const CALENDAR: (f64, f64) = (104.0, 296.0);

/// What the strips show, said once above them.
pub(super) const WORDS: &str = "In each strip: growth a day over the last ten days; then the next four weeks with a line for each Monday, and the days in which it \
                                opens, if it opens, four times in five.";

/// The strip of a bud.
pub(super) fn drawn(mornings: &[Morning], opens: OpeningDates, now: Time, units: Units, zone: Tz) -> Markup {
    let since = now.plus_hours(-24.0 * GROWTH_D as f64);
    let growth: Vec<(Time, f64)> = mornings
        .iter()
        .filter(|morning| morning.time >= since)
        .filter_map(|morning| Some((morning.time, morning.growth_m_day?)))
        .collect();
    let most = growth.iter().fold(0.01, |most: f64, (_, value)| most.max(*value));
    let least = growth.iter().fold(0.0, |least: f64, (_, value)| least.min(*value));
    let curve = Field { x: CURVE, y: (SIZE.1 - 6.0, 6.0), span: (since, now), values: (least, most) };
    let today = now.local_date(zone);
    let midnight = |date: NaiveDate| Time::at_local_hour(date, 0.0, zone);
    let end = today + Days::new(AHEAD_D);
    let calendar =
        Field { x: CALENDAR, y: (0.0, 1.0), span: (midnight(today), midnight(end)), values: (0.0, 1.0) };
    let mondays = today.iter_days().take(AHEAD_D as usize).filter(|date| date.weekday() == Weekday::Mon);
    let (middle, last) = (0.5 * SIZE.1, growth.last());
    html! {
        svg.sketch.strip viewBox={ "0 0 " (SIZE.0) " " (SIZE.1) } role="img" aria-label=(words(last, opens, units)) {
            line.rule x1=(px(CURVE.0)) x2=(px(CURVE.1)) y1=(px(curve.of(0.0))) y2=(px(curve.of(0.0))) {}
            polyline.course points=(curve.points(&growth)) {}
            @if let Some((time, value)) = last { circle.last cx=(px(curve.at(*time))) cy=(px(curve.of(*value))) r="2.6" {} }
            line.rule x1=(px(CALENDAR.0)) x2=(px(CALENDAR.1)) y1=(px(middle)) y2=(px(middle)) {}
            @for monday in mondays {
                @let x = px(calendar.at(midnight(monday)));
                line.rule x1=(x) x2=(x) y1="8" y2=(px(SIZE.1 - 8.0)) {}
            }
            line.now x1=(px(CALENDAR.0)) x2=(px(CALENDAR.0)) y1="4" y2=(px(SIZE.1 - 4.0)) {}
            @if opens.earliest >= end {
                text x=(px(CALENDAR.1)) y=(px(middle - 6.0)) text-anchor="end" { (when::short_date(opens.earliest, false)) " or later" }
            } @else {
                @let (from, until) = (calendar.at(midnight(opens.earliest)), calendar.at(midnight(opens.latest + Days::new(1))));
                line.window x1=(px(from)) x2=(px(until.max(from + 3.0))) y1=(px(middle)) y2=(px(middle)) stroke-width="12" {}
                @if (today..end).contains(&opens.likely) {
                    @let (from, until) = (calendar.at(midnight(opens.likely)), calendar.at(midnight(opens.likely + Days::new(1))));
                    line.likely-day x1=(px(from)) x2=(px(until)) y1=(px(middle)) y2=(px(middle)) stroke-width="12" {}
                }
            }
        }
    }
}

fn words(last: Option<&(Time, f64)>, opens: OpeningDates, units: Units) -> String {
    let growth = last.map_or(String::new(), |(_, growth)| {
        format!("Growth {}. ", figure(Measure::PerDay, units, growth / 24.0))
    });
    format!("{growth}Opens {}.", dates(&opens))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_strip_has_its_curve_and_its_window_and_what_is_far_off_is_said() {
        let zone = chrono_tz::UTC;
        let now = Time::from_unix_ms(1_811_937_600_000);
        let today = now.local_date(zone);
        let morning = |days: f64| Morning {
            time: now.plus_hours(-24.0 * days),
            height_m: None,
            growth_m_day: Some(0.08),
            opens: None,
        };
        let opens = |days: u64| OpeningDates {
            earliest: today + Days::new(days),
            likely: today + Days::new(days + 2),
            latest: today + Days::new(days + 4),
        };
        let of = |mornings: &[Morning], opens| drawn(mornings, opens, now, Units::Metric, zone).into_string();
        let strip = of(&[morning(30.0), morning(2.0), morning(1.0)], opens(3));
        assert!(strip.contains("aria-label=\"Growth 8.0 cm/d. Opens likely"), "{strip}");
        let points =
            strip.split("points=\"").nth(1).and_then(|rest| rest.split('"').next()).unwrap_or_default();
        assert_eq!(points.split(' ').count(), 2, "ten days and no more: {strip}");
        assert_eq!((strip.matches("class=\"window\"").count(), strip.matches("or later").count()), (1, 0));
        assert!(of(&[], opens(40)).contains("or later"));
    }
}
