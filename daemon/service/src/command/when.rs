//! Times as people type them.

use bloom_model::time::Time;
use chrono::{DateTime, NaiveDate, NaiveDateTime, NaiveTime, TimeZone, Utc};
use chrono_tz::Tz;

/// Reads `now`, `21:40`, `yesterday 18:00`, `2027-05-30 08:10`, `2027-05-30` or RFC 3339; local unless it says otherwise.
///
/// Of an autumn hour that comes twice the first is meant; an hour that spring skips does not exist.
///
/// # Errors
/// With what would be right.
pub(super) fn read(text: &str, now: Time, zone: Tz) -> Result<Time, String> {
    let text = text.trim();
    if text == "now" {
        return Ok(now);
    }
    if let Ok(at) = DateTime::parse_from_rfc3339(text) {
        return Ok(at.with_timezone(&Utc).into());
    }
    let today = now.local_date(zone);
    let clock = |text: &str| NaiveTime::parse_from_str(text, "%H:%M").ok();
    let date = |text: &str| match text {
        "today" => Some(today),
        "yesterday" => today.pred_opt(),
        other => NaiveDate::parse_from_str(other, "%Y-%m-%d").ok(),
    };
    let naive: Option<NaiveDateTime> = match text.split_once([' ', 'T']) {
        Some((day, hour)) => date(day).zip(clock(hour.trim())).map(|(day, hour)| day.and_time(hour)),
        None => clock(text)
            .map(|hour| today.and_time(hour))
            .or_else(|| date(text).map(|day| day.and_time(NaiveTime::MIN))),
    };
    let Some(naive) = naive else {
        return Err(format!(
            "{text:?} is no time: give now, 21:40, yesterday 18:00, 2027-05-30 08:10 or 2027-05-30T08:10:00Z"
        ));
    };
    local(naive, zone)
}

/// The instant at which local clocks show a time; of an autumn hour that comes twice the first is meant.
///
/// # Errors
/// Where clocks skip it.
pub(super) fn local(naive: NaiveDateTime, zone: Tz) -> Result<Time, String> {
    let at = zone.from_local_datetime(&naive).earliest();
    at.map(|at| at.with_timezone(&Utc).into()).ok_or_else(|| {
        format!("{naive} does not exist in {zone}: clocks are put forward over it; give an hour later")
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_are_read_as_people_type_them() {
        let zone = chrono_tz::America::Halifax;
        let now = read("2027-06-02T19:45:00Z", Time::from_unix_ms(0), zone).unwrap();
        let at = |text: &str| read(text, now, zone).map(|time| time.to_string());
        assert_eq!(at("now").unwrap(), "2027-06-02T19:45:00Z");
        assert_eq!(at("16:15").unwrap(), "2027-06-02T19:15:00Z");
        assert_eq!(at("yesterday 18:00").unwrap(), "2027-06-01T21:00:00Z");
        assert_eq!(at("2027-05-30 08:10").unwrap(), "2027-05-30T11:10:00Z");
        assert_eq!(at("2027-05-30").unwrap(), "2027-05-30T03:00:00Z");
        assert!(at("2027-03-14 02:30").unwrap_err().contains("does not exist"));
        assert!(at("tea time").unwrap_err().contains("yesterday 18:00"));
    }
}
