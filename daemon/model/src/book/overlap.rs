//! Several plants in bud: whose pollen is ripe while whose flowers are receptive, and what must be kept for how long.

use chrono::NaiveDate;
use chrono_tz::Tz;
use serde::Serialize;

use super::storage::StorageFigure;
use crate::event::Window;
use crate::forecast::OpeningDates;
use crate::profile::Profile;
use crate::time::Time;

/// When a plant opens: one in ten earlier, as likely earlier as later, one in ten later. All three are one where it has opened.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Opens {
    /// One opening in ten is earlier.
    pub earliest: Time,
    /// As likely earlier as later.
    pub likely: Time,
    /// One opening in ten is later.
    pub latest: Time,
}

impl Opens {
    /// An opening that was seen.
    pub const fn seen(at: Time) -> Self {
        Self { earliest: at, likely: at, latest: at }
    }

    /// A forecast of local dates: on each, the middle of the hours in which such plants open.
    pub fn on(dates: &OpeningDates, profile: &Profile, zone: Tz) -> Self {
        let hour = (profile.crack_from_hour + profile.crack_until_hour) / 2.0;
        let at = |date: NaiveDate| Time::at_local_hour(date, hour, zone);
        Self { earliest: at(dates.earliest), likely: at(dates.likely), latest: at(dates.latest) }
    }
}

/// A plant in bud or in flower.
#[derive(Debug, Clone)]
pub struct Flowering<'a> {
    /// Its bench.
    pub bench: &'a str,
    /// When it opens.
    pub opens: Opens,
    /// The numbers of its kind.
    pub profile: &'a Profile,
    /// How its pollen keeps.
    pub storage: &'a [StorageFigure],
}

impl Flowering<'_> {
    fn receptive(&self, opens: Time) -> Window {
        Window {
            from: opens.plus_hours(self.profile.receptive_from_h),
            until: opens.plus_hours(self.profile.receptive_until_h),
        }
    }

    fn pollen(&self, opens: Time) -> Window {
        Window {
            from: opens.plus_hours(self.profile.pollen_from_h),
            until: opens.plus_hours(self.profile.pollen_until_h),
        }
    }
}

/// What one plant's pollen can do for another's flowers.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Meeting {
    /// Whose pollen.
    pub donor: String,
    /// Whose flowers.
    pub receiver: String,
    /// When the pollen is likely to be ripe.
    pub pollen: Window,
    /// When the flowers are likely to be receptive.
    pub receptive: Window,
    /// Days that the pollen must be kept, from when it is most likely shed to when the flowers become receptive: if the one is
    /// late and the other early, likely, and the other way round. Negative where the pollen comes too late.
    pub keep_d: (f64, f64, f64),
    /// What to do.
    pub fit: Fit,
    /// Ways of keeping it for the likely number of days, each for long enough by its source.
    pub ways: Vec<Way>,
}

/// How two plants fit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Fit {
    /// The pollen is likely to be ripe while the flowers are receptive: take it fresh.
    Fresh,
    /// The pollen comes first and can be kept for as long as is likely.
    Keep,
    /// The pollen comes first, and no source says that it keeps for so long.
    TooLong,
    /// The pollen is likely to come too late; it could still fit if the one is early and the other late.
    Unlikely,
    /// The pollen comes too late.
    TooLate,
}

impl Fit {
    /// Whether it is something to count on.
    pub const fn fits(self) -> bool {
        matches!(self, Self::Fresh | Self::Keep)
    }
}

/// A way of keeping pollen for long enough.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Way {
    /// From and to which temperature, °C.
    pub kept_c: (f64, f64),
    /// Dried, fresh, or either where it is left out.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub dried: Option<bool>,
    /// Days for which it keeps so.
    pub good_d: f64,
    /// Long enough even if the one is early and the other late.
    pub surely: bool,
    /// Who says so.
    pub source: String,
    /// Who says otherwise, of the same temperatures.
    pub but: Vec<String>,
}

/// Weighs every plant's pollen for every other plant's flowers, in the order in which they were given.
pub fn meetings(plants: &[Flowering<'_>]) -> Vec<Meeting> {
    let pairs = plants.iter().enumerate().flat_map(|(i, donor)| {
        plants.iter().enumerate().filter(move |(j, _)| i != *j).map(move |(_, receiver)| (donor, receiver))
    });
    pairs.map(|(donor, receiver)| meeting(donor, receiver)).collect()
}

/// Whether two figures speak of the same way of keeping.
fn speak_of_one(one: &StorageFigure, other: &StorageFigure) -> bool {
    let same_drying = one.dried.is_none() || other.dried.is_none() || one.dried == other.dried;
    same_drying && one.kept_c.0 <= other.kept_c.1 && other.kept_c.0 <= one.kept_c.1
}

fn meeting(donor: &Flowering<'_>, receiver: &Flowering<'_>) -> Meeting {
    let pollen = donor.pollen(donor.opens.likely);
    let receptive = receiver.receptive(receiver.opens.likely);
    let days = |donor_opens: Time, receiver_opens: Time| {
        let shed = donor_opens.plus_hours(donor.profile.pollen_likely_h);
        receiver.receptive(receiver_opens).from.days_since(shed)
    };
    let keep_d = (
        days(donor.opens.latest, receiver.opens.earliest),
        days(donor.opens.likely, receiver.opens.likely),
        days(donor.opens.earliest, receiver.opens.latest),
    );
    let ways: Vec<Way> = donor
        .storage
        .iter()
        .filter(|figure| keep_d.1 > 0.0 && figure.good_at_most_d >= keep_d.1)
        .map(|figure| Way {
            kept_c: figure.kept_c,
            dried: figure.dried,
            good_d: figure.good_at_most_d,
            surely: figure.good_d >= keep_d.2,
            source: figure.source.clone(),
            but: donor
                .storage
                .iter()
                .filter(|other| other.good_at_most_d < keep_d.1 && speak_of_one(figure, other))
                .map(|other| other.source.clone())
                .collect(),
        })
        .collect();
    let together = pollen.from <= receptive.until && receptive.from <= pollen.until;
    let fit = if together {
        Fit::Fresh
    } else if keep_d.1 > 0.0 {
        if ways.is_empty() { Fit::TooLong } else { Fit::Keep }
    } else if keep_d.2 > 0.0 {
        Fit::Unlikely
    } else {
        Fit::TooLate
    };
    let (donor, receiver) = (donor.bench.to_owned(), receiver.bench.to_owned());
    Meeting { donor, receiver, pollen, receptive, keep_d, fit, ways }
}
