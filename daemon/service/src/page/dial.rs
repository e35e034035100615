//! The clock of the opening night: a day of 24 hours about now, with the hours in which it is receptive and those of its own pollen on it.

use std::f64::consts::TAU;

use bloom_model::event::Window;
use bloom_model::time::Time;
use bloom_text::when;
use chrono_tz::Tz;
use maud::{Markup, html};

use super::sketch::px;

/// The clock shows so many hours behind now, and the rest of a day ahead: no hour stands for two.
const BEHIND_H: f64 = 6.0;
/// Its middle, px.
const MIDDLE: f64 = 120.0;
/// Radius of the ring of the receptive hours, and of the pollen's, px.
const RINGS: [f64; 2] = [86.0, 66.0];

/// The clock with what its rings stand for. A window that is not known has no ring.
pub(super) fn drawn(receptive: Option<Window>, pollen: Option<Window>, now: Time, zone: Tz) -> Markup {
    let named = [("Receptive", "receptive", receptive), ("Own pollen", "pollen", pollen)];
    let told = named.iter().filter_map(|(name, _, window)| {
        window.map(|window| format!("{}: {}", name.to_lowercase(), when::window(&window, zone)))
    });
    let label =
        format!("Clock of 24 hours, now {}. {}", when::clock(now, zone), told.collect::<Vec<_>>().join("; "));
    let (tip, tail) = (at(now, 104.0, zone), at(now, 40.0, zone));
    html! {
        svg.sketch.dial viewBox="0 0 240 240" role="img" aria-label=(label) {
            @for radius in RINGS { circle.track cx=(px(MIDDLE)) cy=(px(MIDDLE)) r=(px(radius)) {} }
            @for hour in 0..24_u32 {
                @let long = hour % 6 == 0;
                @let (outer, inner) = (around(f64::from(hour), 98.0), around(f64::from(hour), if long { 92.0 } else { 95.0 }));
                line.rule x1=(px(outer.0)) y1=(px(outer.1)) x2=(px(inner.0)) y2=(px(inner.1)) {}
                @if long {
                    @let place = around(f64::from(hour), 110.0);
                    text x=(px(place.0)) y=(px(place.1 + 4.0)) text-anchor="middle" { (hour) }
                }
            }
            @for ((_, class, window), radius) in named.iter().zip(RINGS) {
                @if let Some(path) = window.and_then(|window| arc(&window, radius, now, zone)) { path class=(class) d=(path) {} }
            }
            line.hand x1=(px(tail.0)) y1=(px(tail.1)) x2=(px(tip.0)) y2=(px(tip.1)) {}
            text.now x=(px(MIDDLE)) y=(px(MIDDLE - 2.0)) text-anchor="middle" { "now" }
            text.now x=(px(MIDDLE)) y=(px(MIDDLE + 14.0)) text-anchor="middle" { (when::clock(now, zone)) }
        }
        dl.keys {
            @for (name, class, window) in &named {
                @if let Some(window) = window {
                    div { dt { svg.sketch.key viewBox="0 0 28 12" aria-hidden="true" { path class=(class) d="M2 6h24" {} } " " (name) } dd { (state(window, now, zone)) } }
                }
            }
        }
    }
}

/// `now, until Thu 08:00`, the window, or that it is past.
fn state(window: &Window, now: Time, zone: Tz) -> String {
    if window.until <= now {
        format!("past, until {}", when::day_clock(window.until, zone))
    } else if window.from <= now {
        format!("now, until {}", when::day_clock(window.until, zone))
    } else {
        format!("{} to {}", when::day_clock(window.from, zone), when::day_clock(window.until, zone))
    }
}

/// The part of a window that the clock shows, as a path; `None` where it shows none of it.
fn arc(window: &Window, radius: f64, now: Time, zone: Tz) -> Option<String> {
    let (from, until) =
        (window.from.max(now.plus_hours(-BEHIND_H)), window.until.min(now.plus_hours(23.9 - BEHIND_H)));
    let hours = until.hours_since(from);
    if hours <= 0.0 {
        return None;
    }
    let (start, end) = (at(from, radius, zone), around(from.local_hour(zone) + hours, radius));
    let large = u8::from(hours > 12.0);
    Some(format!(
        "M{} {}A{radius} {radius} 0 {large} 1 {} {}",
        px(start.0),
        px(start.1),
        px(end.0),
        px(end.1)
    ))
}

fn at(time: Time, radius: f64, zone: Tz) -> (f64, f64) {
    around(time.local_hour(zone), radius)
}

/// Where a local hour is: midnight above, noon below.
fn around(hour: f64, radius: f64) -> (f64, f64) {
    let (sine, cosine) = (hour / 24.0 * TAU).sin_cos();
    (MIDDLE + radius * sine, MIDDLE - radius * cosine)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_window_is_drawn_within_the_day_about_now() {
        let zone = chrono_tz::UTC;
        let now = Time::from_unix_ms(1_811_980_800_000).next_local_hour(18, zone);
        let window =
            |from: f64, until: f64| Window { from: now.plus_hours(from), until: now.plus_hours(until) };
        // 18 to 24 h: from the left to the top
        assert_eq!(
            arc(&window(0.0, 6.0), 80.0, now, zone).as_deref(),
            Some("M40.0 120.0A80 80 0 0 1 120.0 40.0")
        );
        assert_eq!(arc(&window(-20.0, -7.0), 80.0, now, zone), None, "long past");
        assert_eq!(arc(&window(19.0, 40.0), 80.0, now, zone), None, "tomorrow night");
        assert!(arc(&window(-30.0, 60.0), 80.0, now, zone).is_some_and(|path| path.contains(" 0 1 1 ")));
    }
}
