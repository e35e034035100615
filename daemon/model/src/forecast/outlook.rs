//! The forecast as it is told. Messages, page, sheets, calendar and programs all tell this one, and on one footing: dates and the
//! chance of tonight hold for a bud that opens; the chance that it never does stands beside them.

use chrono::NaiveDate;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::HeightAtOpening;
use crate::time::Time;

/// From this chance on it is said that a bud may never open.
const SAID_FROM: f64 = 0.1;
/// Above this chance a bud has most likely stopped, and no date and no chance of tonight is told to people.
const MOST_LIKELY: f64 = 0.5;
/// What a forecast says of tonight holds for so long, h.
const TONIGHT_HOLDS_H: f64 = 24.0;

/// The shortest run of local dates that holds the opening with a chance of about 80 %, given that it opens.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct OpeningDates {
    /// The first of them.
    pub earliest: NaiveDate,
    /// As likely earlier as later.
    pub likely: NaiveDate,
    /// The last of them.
    pub latest: NaiveDate,
}

/// The days in which a bud opens and the chance of tonight, both given that it opens, and the chance that it never does.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Outlook {
    /// The days in which it opens, given that it opens.
    pub opens: OpeningDates,
    /// Chance that it opens before the next morning, given that it opens, 0 to 1. Times one less `probability_never` it is the
    /// chance whatever becomes of the bud.
    pub probability_tonight: f64,
    /// Chance that it never opens, 0 to 1. Above one half people are told "most likely stopped", and neither date nor chance.
    pub probability_never: f64,
    /// How tall it will stand when it opens, if it does; absent while height or growth is not known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub height_at_opening_m: Option<HeightAtOpening>,
}

/// What is remembered of a forecast that was told, and when. Payloads leave out what is not known; in a state that is written down every
/// figure has its place.
pub(crate) mod remembered {
    use serde::{Deserialize, Deserializer, Serialize, Serializer};

    use super::{HeightAtOpening, OpeningDates, Outlook};
    use crate::time::Time;

    type Told = (Time, OpeningDates, f64, f64, Option<HeightAtOpening>);

    pub(crate) fn serialize<S: Serializer>(
        told: &Option<(Time, Outlook)>,
        serializer: S,
    ) -> Result<S::Ok, S::Error> {
        let told = told.map(|(time, outlook)| -> Told {
            let Outlook { opens, probability_tonight, probability_never, height_at_opening_m } = outlook;
            (time, opens, probability_tonight, probability_never, height_at_opening_m)
        });
        told.serialize(serializer)
    }

    pub(crate) fn deserialize<'de, D: Deserializer<'de>>(
        deserializer: D,
    ) -> Result<Option<(Time, Outlook)>, D::Error> {
        let told = Option::<Told>::deserialize(deserializer)?;
        Ok(told.map(|(time, opens, probability_tonight, probability_never, height_at_opening_m)| {
            (time, Outlook { opens, probability_tonight, probability_never, height_at_opening_m })
        }))
    }
}

/// A forecast that was told, and when.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct ToldOutlook {
    /// The instant whose forecast this is: that of the newest event which carried one.
    pub forecast_at: Time,
    /// The forecast.
    #[serde(flatten)]
    pub outlook: Outlook,
}

/// What people are told of a forecast.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Tidings {
    /// It has most likely stopped, with this chance: no date, no chance of tonight.
    Stopped(f64),
    /// It opens in these days, with this chance tonight, both given that it opens.
    Opens {
        /// The days.
        dates: OpeningDates,
        /// The chance of tonight.
        tonight: f64,
        /// The chance that it never opens, where that is worth a word.
        never: Option<f64>,
    },
}

impl Outlook {
    /// What people are told of it.
    pub fn tidings(&self) -> Tidings {
        let never = self.probability_never;
        if never > MOST_LIKELY {
            return Tidings::Stopped(never);
        }
        Tidings::Opens {
            dates: self.opens,
            tonight: self.probability_tonight,
            never: (never > SAID_FROM).then_some(never),
        }
    }

    /// The days in which it opens, unless it has most likely stopped.
    pub fn dates(&self) -> Option<OpeningDates> {
        match self.tidings() {
            Tidings::Stopped(_) => None,
            Tidings::Opens { dates, .. } => Some(dates),
        }
    }
}

impl ToldOutlook {
    /// The chance of tonight, while what was said of tonight is still about this night and the bud has not most likely stopped.
    pub fn tonight(&self, now: Time) -> Option<f64> {
        match self.outlook.tidings() {
            Tidings::Opens { tonight, .. } if now.hours_since(self.forecast_at) < TONIGHT_HOLDS_H => {
                Some(tonight)
            }
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use chrono::NaiveDate;

    use super::*;

    fn outlook(probability_never: f64) -> Outlook {
        let date = |day| NaiveDate::from_ymd_opt(2027, 5, day).unwrap();
        let opens = OpeningDates { earliest: date(24), likely: date(25), latest: date(25) };
        Outlook { opens, probability_tonight: 0.62, probability_never, height_at_opening_m: None }
    }

    /// The bud that had stopped while the phone said "Opens likely 25 May (24 May to 25 May)": 0.95 that it never opens.
    #[test]
    fn a_bud_that_has_most_likely_stopped_has_no_dates_and_no_chance() {
        let stopped = outlook(0.95);
        assert_eq!(stopped.tidings(), Tidings::Stopped(0.95));
        assert_eq!(stopped.dates(), None);
        let told = ToldOutlook { forecast_at: Time::from_unix_ms(0), outlook: stopped };
        assert_eq!(told.tonight(Time::from_unix_ms(0)), None);
    }

    #[test]
    fn that_it_may_never_open_is_said_from_one_in_ten() {
        let never = |chance| match outlook(chance).tidings() {
            Tidings::Opens { never, tonight, .. } => (tonight, never),
            stopped => panic!("{stopped:?}"),
        };
        assert_eq!(never(0.1), (0.62, None));
        assert_eq!(never(0.11), (0.62, Some(0.11)));
        assert_eq!(never(0.5), (0.62, Some(0.5)), "the chance of tonight stays on the footing of the dates");
    }

    #[test]
    fn what_was_said_of_tonight_is_of_one_night() {
        let told = ToldOutlook { forecast_at: Time::from_unix_ms(0), outlook: outlook(0.2) };
        assert_eq!(told.tonight(Time::from_unix_ms(0).plus_hours(23.9)), Some(0.62));
        assert_eq!(told.tonight(Time::from_unix_ms(0).plus_hours(24.0)), None);
    }
}
