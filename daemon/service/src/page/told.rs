//! What happened at a bench, folded by day.

use bloom_model::event::{EventKind, Severity};
use bloom_text::when;
use chrono::NaiveDate;
use chrono_tz::Tz;
use maud::{Markup, html};

use super::frame::instant;
use crate::review::story::Told;

/// Events, newest first, a fold for each local day. Of the newest day the fold is open. Bulletins are drawn elsewhere and left out.
pub(super) fn by_day(events: &[Told], zone: Tz) -> Markup {
    let shown: Vec<&Told> = events.iter().filter(|told| told.kind != EventKind::Morning.name()).collect();
    let day = |told: &Told| told.time.local_date(zone);
    html! {
        @if shown.is_empty() { p.note { "None in the last weeks." } }
        @for (place, events) in shown.chunk_by(|one, other| day(one) == day(other)).enumerate() {
            @if let Some(first) = events.first() { (fold(day(first), events, place == 0, zone)) }
        }
    }
}

fn fold(day: NaiveDate, events: &[&Told], open: bool, zone: Tz) -> Markup {
    let alarms = events.iter().filter(|told| told.severity == Severity::Alarm).count();
    html! {
        details.day id={ "day-" (day) } open[open] {
            summary { (day.format("%a")) " " (when::short_date(day, false)) span.note { " " (counted(events.len(), alarms)) } }
            ol.told {
                @for told in events {
                    li class=(told.severity.name()) {
                        (instant(told.time, &when::clock(told.time, zone)))
                        " " b { @if told.severity != Severity::Notice { (told.severity.name()) ": " } (told.kind.replace('-', " ")) }
                        " " span { (told.message) }
                    }
                }
            }
        }
    }
}

/// `3 events, of them one alarm`.
fn counted(events: usize, alarms: usize) -> String {
    let many =
        |count: usize, one: &str| if count == 1 { format!("one {one}") } else { format!("{count} {one}s") };
    match alarms {
        0 => many(events, "event"),
        alarms => format!("{}, of them {}", many(events, "event"), many(alarms, "alarm")),
    }
}

#[cfg(test)]
mod tests {
    use bloom_model::time::Time;

    use super::*;

    #[test]
    fn days_are_folds_and_bulletins_are_no_lines() {
        let at = |hours: f64| Time::from_unix_ms(1_811_937_600_000).plus_hours(hours);
        let told = |kind: EventKind, severity, hours| Told {
            time: at(hours),
            kind: kind.name().to_owned(),
            severity,
            message: format!("said of {}", kind.name()),
            undone: false,
        };
        let events = [
            told(EventKind::FullOpen, Severity::Notice, 30.0),
            told(EventKind::OpeningTonight, Severity::Alarm, 29.0),
            told(EventKind::Morning, Severity::Notice, 20.0),
            told(EventKind::Slowing, Severity::Notice, 0.0),
        ];
        let page = by_day(&events, chrono_tz::UTC).into_string();
        assert_eq!(page.matches("<details").count(), 2, "{page}");
        assert_eq!(page.matches(" open>").count(), 1, "{page}");
        assert!(page.contains("2 events, of them one alarm") && !page.contains("said of morning"), "{page}");
    }
}
