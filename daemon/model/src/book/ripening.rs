//! When fruit will be ripe: the published spread, in days and in degree-days, and what the house's own records say.

use serde::Serialize;

use super::husbandry::{Husbandry, RipeningFigure};
use super::season::spread;
use crate::time::Time;

/// Own records from which on they tell what is likely; with fewer, the published figures do. Judgement.
const ENOUGH_OWN: usize = 3;

/// A fruit of the house that ripened.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OwnRipening {
    /// Its cross.
    pub cross: String,
    /// Days from pollination.
    pub days: f64,
    /// Degree-days from pollination, where the record covers them.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub degree_days: Option<f64>,
}

/// Heat that a fruit has had.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct FruitHeat {
    /// Degree-days since pollination, over what the record covers.
    pub degree_days: f64,
    /// Days that the record covers.
    pub covered_days: f64,
    /// Degree-days a day, over what it covers.
    pub a_day: f64,
}

/// The forecast.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Ripening {
    /// Days since pollination.
    pub age_d: f64,
    /// The shortest and the longest days that were published or happened here.
    pub spread_d: (f64, f64),
    /// The days taken as likely: the median of the own records where there are three or more, else of the published figures.
    pub likely_d: f64,
    /// When that is.
    pub ripe: Ripe,
    /// Own records behind it.
    pub own: Vec<OwnRipening>,
    /// The published figures, each with its source; what is common practice stands beside the spread, not in it.
    pub published: Vec<RipeningFigure>,
    /// The heat so far.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub heat: Option<FruitHeat>,
    /// Degree-days that the spread comes to, and the likely days: by own records where they have them, else the days at this
    /// fruit's own pace, for none is published.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub degree_days: Option<DegreeDaySpread>,
}

/// When fruit is ripe.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Ripe {
    /// By the shortest figure.
    pub earliest: Time,
    /// By the likely one.
    pub likely: Time,
    /// By the longest.
    pub latest: Time,
}

/// Degree-days from pollination to ripe fruit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct DegreeDaySpread {
    /// By the shortest figure.
    pub least: f64,
    /// By the likely one.
    pub likely: f64,
    /// By the longest.
    pub most: f64,
    /// By own records; otherwise it is the days at this fruit's pace.
    pub by_own: bool,
    /// When the likely total is reached at this fruit's pace.
    pub likely_on: Time,
}

/// The forecast for a fruit that was pollinated then. `None` where nothing is published of the taxon and nothing ripened here.
pub fn forecast(
    pollinated: Time,
    now: Time,
    husbandry: Option<&Husbandry>,
    own: Vec<OwnRipening>,
    heat: Option<FruitHeat>,
) -> Option<Ripening> {
    let published: Vec<RipeningFigure> = husbandry.map(|known| known.ripening.clone()).unwrap_or_default();
    let in_spread = || published.iter().filter(|figure| !figure.common_practice);
    let own_days = || own.iter().map(|fruit| fruit.days);
    let shortest = in_spread().map(|figure| figure.days).chain(own_days()).reduce(f64::min)?;
    let longest = in_spread().map(|figure| figure.days_at_most).chain(own_days()).reduce(f64::max)?;
    let middles = in_spread().map(|figure| (figure.days + figure.days_at_most) / 2.0);
    let likely_d = if own.len() >= ENOUGH_OWN {
        median(own_days().collect())
    } else {
        median(middles.chain(own_days()).collect())
    }?;
    let after = |days: f64| pollinated.plus_hours(24.0 * days);
    let degree_days = heat.filter(|heat| heat.a_day > 0.0).map(|heat| {
        let own_heat: Vec<f64> = own.iter().filter_map(|fruit| fruit.degree_days).collect();
        let by_own = own_heat.len() >= ENOUGH_OWN;
        let of_own = |pick: fn(f64, f64) -> f64| own_heat.iter().copied().reduce(pick);
        let (least, likely, most) = match (of_own(f64::min), median(own_heat.clone()), of_own(f64::max)) {
            (Some(least), Some(likely), Some(most)) if by_own => (least, likely, most),
            _ => (shortest * heat.a_day, likely_d * heat.a_day, longest * heat.a_day),
        };
        // days that the record does not cover had the same pace, as far as anybody knows
        let so_far = heat.a_day * now.days_since(pollinated);
        let likely_on = now.plus_hours(24.0 * (likely - so_far) / heat.a_day);
        DegreeDaySpread { least, likely, most, by_own, likely_on }
    });
    Some(Ripening {
        age_d: now.days_since(pollinated),
        spread_d: (shortest, longest),
        likely_d,
        ripe: Ripe { earliest: after(shortest), likely: after(likely_d), latest: after(longest) },
        own,
        published,
        heat,
        degree_days,
    })
}

fn median(values: Vec<f64>) -> Option<f64> {
    spread(values).map(|spread| spread.median)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn figure(days: f64, days_at_most: f64, common_practice: bool) -> RipeningFigure {
        RipeningFigure { days, days_at_most, common_practice, source: format!("{days}") }
    }

    fn husbandry() -> Husbandry {
        let ripening = vec![
            figure(150.0, 150.0, false),
            figure(180.0, 270.0, false),
            figure(281.0, 281.0, false),
            figure(365.0, 365.0, true),
        ];
        Husbandry { ripening, ..Husbandry::default() }
    }

    fn own(days: f64, degree_days: f64) -> OwnRipening {
        OwnRipening { cross: "X".to_owned(), days, degree_days: Some(degree_days) }
    }

    #[test]
    fn common_practice_stands_beside_the_published_spread_and_not_in_it() {
        let made = Time::from_unix_ms(0);
        let now = made.plus_hours(24.0 * 100.0);
        let told = forecast(made, now, Some(&husbandry()), Vec::new(), None).unwrap();
        assert_eq!((told.spread_d, told.likely_d), ((150.0, 281.0), 225.0));
        assert_eq!(told.published.len(), 4);
        assert_eq!(told.degree_days, None);
        assert_eq!(told.ripe.latest, made.plus_hours(24.0 * 281.0));
        assert_eq!(forecast(made, now, None, Vec::new(), None), None, "nothing is made up");
    }

    #[test]
    fn own_records_widen_the_spread_at_once_and_tell_what_is_likely_from_three_on() {
        let made = Time::from_unix_ms(0);
        let now = made.plus_hours(24.0 * 100.0);
        let heat = Some(FruitHeat { degree_days: 900.0, covered_days: 90.0, a_day: 10.0 });
        let one = forecast(made, now, Some(&husbandry()), vec![own(310.0, 3000.0)], heat).unwrap();
        assert_eq!((one.spread_d, one.likely_d), ((150.0, 310.0), 253.0));
        let degree_days = one.degree_days.unwrap();
        assert_eq!((degree_days.least, degree_days.likely, degree_days.by_own), (1500.0, 2530.0, false));
        assert_eq!(degree_days.likely_on, one.ripe.likely);
        let many = vec![own(300.0, 3000.0), own(310.0, 3200.0), own(330.0, 3100.0)];
        let told = forecast(made, now, Some(&husbandry()), many, heat).unwrap();
        assert_eq!((told.likely_d, told.own.len()), (310.0, 3));
        let degree_days = told.degree_days.unwrap();
        assert_eq!((degree_days.least, degree_days.likely, degree_days.most), (3000.0, 3100.0, 3200.0));
        // 1,000 of them are had in 100 days, 2,100 are to come at 10 a day
        assert_eq!(degree_days.likely_on, now.plus_hours(24.0 * 210.0));
    }
}
