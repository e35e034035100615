//! What a person records by a button. Time, pollen and name are offered beside the buttons and not asked for: left as they are, a sign is of
//! now.

use bloom_model::bloom::life::BookedSign;
use bloom_model::sign::PlainSign;
use bloom_model::time::Time;
use bloom_text::when;
use chrono::{NaiveDateTime, Timelike};
use chrono_tz::Tz;
use maud::{Markup, html};

use super::frame::instant;
use super::past::Past;
use super::{House, signs};
use crate::facts::BenchFacts;
use crate::words::{MAX_BY, MAX_NOTE, said};

/// Clocks of people may be ahead of the site's by so much, h.
const AHEAD_H: f64 = 0.05;

/// The buttons of a bench, and what was recorded in its bloom. `by` is the visitor's name, as given with the password.
pub(super) fn shown(house: &House, bench: &BenchFacts, past: &Past, by: Option<&str>, now: Time) -> Markup {
    let action = format!("/bench/{}/sign", bench.bench);
    let fitting = signs::fitting(bench.stage());
    let lots: Vec<&str> = match &past.sheet {
        Some(sheet) if fitting.contains(&PlainSign::Pollinated) => {
            sheet.pollen.iter().map(|candidate| candidate.lot.lot.name.as_str()).collect()
        }
        _ => Vec::new(),
    };
    html! {
        h2 { "Tap to record" }
        form method="post" action=(action) {
            div.presses {
                @for sign in fitting {
                    button.press id={ "book-" (sign.name()) } name="sign" value=(sign.name()) { (signs::words(*sign)) }
                }
            }
            details #beside {
                summary { "At another time" @if !lots.is_empty() { ", with which pollen" } ", by whom" }
                div.fields {
                    label { "Time, if not now" input #book-at type="datetime-local" name="at"; }
                    @if !lots.is_empty() {
                        label { "Pollen" select #book-lot name="lot" { option value="" { "not said" } @for lot in lots { option value=(lot) { (lot) } } } }
                    }
                    label { "Name" input #book-by type="text" name="by" autocomplete="name" maxlength=(MAX_BY) value=[by]; }
                }
                p.note { "Fill in what you like, then tap the button above." }
            }
        }
        @if let Some(bloom) = past.bloom.as_ref().filter(|bloom| !bloom.signs.is_empty()) {
            h3 { "Recorded in this bloom" }
            ul.booked { @for sign in bloom.signs.iter().rev() { li { (booked(house, &action, sign, now)) } } }
        }
    }
}

fn booked(house: &House, action: &str, booked: &BookedSign, now: Time) -> Markup {
    let zone = house.config.site.timezone;
    let ms = booked.time.unix_ms();
    html! {
        form method="post" action=(action) {
            input type="hidden" name="sign" value=(booked.sign);
            input type="hidden" name="booked_ms" value=(ms);
            span {
                (signs::words(booked.what)) ", " (instant(booked.time, &when::clock_seen_from(booked.time, now, zone)))
                @if let Some(by) = &booked.by { ", by " (by) }
                @if let Some(note) = &booked.note { " (" (note) ")" }
            }
            button.press.quiet id={ "withdraw-" (booked.sign) "-" (ms) }
                aria-label={ "Withdraw: " (signs::words(booked.what)) } { "Withdraw" }
        }
    }
}

/// When, by whom and with what note a sign is recorded.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct Beside {
    /// When.
    pub(super) time: Time,
    /// Who.
    pub(super) by: Option<String>,
    /// With which pollen.
    pub(super) note: Option<String>,
}

/// Reads what was filled in beside the buttons; what is empty was not.
///
/// # Errors
/// In words: what cannot be so, and what to do.
pub(super) fn read(
    (at, lot, by): (Option<&str>, Option<&str>, Option<&str>),
    sign: PlainSign,
    now: Time,
    zone: Tz,
) -> Result<Beside, String> {
    let filled = |text: Option<&str>| text.map(str::trim).filter(|text| !text.is_empty()).map(str::to_owned);
    let time = match filled(at) {
        None => now,
        Some(text) => {
            let local = ["%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:%S"]
                .into_iter()
                .find_map(|form| NaiveDateTime::parse_from_str(&text, form).ok())
                .ok_or_else(|| format!("{text:?} is no time: give one such as 2027-06-02T21:40"))?;
            let hour = f64::from(local.num_seconds_from_midnight()) / 3600.0;
            Time::at_local_hour(local.date(), hour, zone)
        }
    };
    if time.hours_since(now) > AHEAD_H {
        return Err(format!("{} is still to come: record it when it has happened", when::moment(time, zone)));
    }
    let lot = filled(lot).filter(|_| sign == PlainSign::Pollinated);
    let note = lot.map_or(Ok(None), |lot| said("the pollen", &format!("with pollen {lot}"), MAX_NOTE))?;
    let by = by.map_or(Ok(None), |by| said("the name", by, MAX_BY))?;
    Ok(Beside { time: time.min(now), by, note })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_left_empty_is_now_and_nobodys_and_what_is_to_come_is_refused() {
        let zone = chrono_tz::America::Halifax;
        let now = Time::from_unix_ms(1_811_937_600_000).next_local_hour(22, zone);
        let of = |at, lot, by, sign| read((at, lot, by), sign, now, zone);
        let plain = Beside { time: now, by: None, note: None };
        assert_eq!(of(None, None, None, PlainSign::Scent), Ok(plain));
        let date = now.local_date(zone);
        let at = format!("{date}T21:40");
        let told = of(Some(&at), Some("AT-0398-2027a"), Some(" Robin "), PlainSign::Pollinated).unwrap();
        assert!((now.hours_since(told.time) - 20.0 / 60.0).abs() < 1e-6, "{}", told.time);
        assert_eq!(
            (told.by.as_deref(), told.note.as_deref()),
            (Some("Robin"), Some("with pollen AT-0398-2027a"))
        );
        let scent = of(Some(""), Some("AT-0398-2027a"), Some(""), PlainSign::Scent).unwrap();
        assert_eq!(scent, Beside { time: now, by: None, note: None }, "pollen is of a pollination alone");
        let late = format!("{date}T23:30");
        let ahead = of(Some(&late), None, None, PlainSign::Opened).unwrap_err();
        assert!(ahead.contains("still to come"), "{ahead}");
        assert!(of(Some("tea time"), None, None, PlainSign::Opened).is_err());
    }
}
