//! Several benches in bud: the overlap of their windows, with kinship.

use bloom_model::book::kinship::Relation;
use bloom_model::book::ledger::is_hybrid;
use bloom_model::book::overlap::{Flowering, Meeting, meetings};
use bloom_model::time::Time;
use serde::Serialize;

use super::HouseBook;
use super::plan::Refusal;
use super::tonight::opens;

/// What one bench's pollen can do for another's flowers.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Pairing {
    /// Dates, windows, ways of keeping.
    #[serde(flatten)]
    pub meeting: Meeting,
    /// The plant that gives pollen.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub father: Option<String>,
    /// The plant that takes it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mother: Option<String>,
    /// How they are related.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub relation: Option<Relation>,
    /// They are of two taxa.
    pub hybrid: bool,
}

/// Every pair of benches in bud or in flower, by the receiving bench, best first.
///
/// # Errors
/// If the pedigree in the book bites its own tail.
pub fn pairings(house: &HouseBook, now: Time) -> Result<Vec<Pairing>, Refusal> {
    let mut plants = Vec::new();
    for bench in &house.benches {
        if let Some(bloom) = house.bloom_at(&bench.id, now)
            && let Some(opens) = opens(house, bench, bloom, now)
        {
            let plant = bloom.plant.as_deref().or(bench.plant.as_deref());
            let taxon =
                plant.and_then(|plant| house.taxon(plant)).unwrap_or_else(|| bench.profile.taxon.clone());
            let storage = house.husbandry(Some(&taxon)).map_or(&[][..], |husbandry| &husbandry.storage);
            let flowering = Flowering { bench: &bench.id, opens, profile: &bench.profile, storage };
            plants.push((flowering, plant, taxon));
        }
    }
    let flowering: Vec<Flowering<'_>> = plants.iter().map(|(flowering, ..)| flowering.clone()).collect();
    let of = |bench: &str| {
        let found = plants.iter().find(|(flowering, ..)| flowering.bench == bench);
        (found.and_then(|(_, plant, _)| *plant), found.map(|(.., taxon)| taxon.as_str()))
    };
    let mut pairings = Vec::new();
    for meeting in meetings(&flowering) {
        let ((father, of_father), (mother, of_mother)) = (of(&meeting.donor), of(&meeting.receiver));
        pairings.push(Pairing {
            relation: mother
                .zip(father)
                .map(|(mother, father)| house.relation(mother, father))
                .transpose()?,
            hybrid: is_hybrid(of_mother, of_father),
            father: father.map(str::to_owned),
            mother: mother.map(str::to_owned),
            meeting,
        });
    }
    pairings.sort_by(|one, other| {
        (&one.meeting.receiver, one.meeting.fit, &one.meeting.donor).cmp(&(
            &other.meeting.receiver,
            other.meeting.fit,
            &other.meeting.donor,
        ))
    });
    Ok(pairings)
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use bloom_model::book::overlap::{Fit, Opens};
    use bloom_model::book::storage::StorageFigure;
    use bloom_model::forecast::OpeningDates;
    use bloom_model::profile::Profile;

    use super::*;
    use crate::config::{husbandries, profile};

    fn titan() -> (Profile, Vec<StorageFigure>) {
        let nowhere = Path::new("/nowhere");
        let husbandry =
            husbandries(nowhere).unwrap().into_iter().find(|one| one.taxon == "Amorphophallus titanum");
        (profile("titan-arum", nowhere).unwrap(), husbandry.unwrap().storage)
    }

    fn day(number: f64) -> Time {
        Time::from_unix_ms(1_811_905_200_000).plus_hours(24.0 * number)
    }

    /// One in ten opens two days before, one in ten two days after.
    fn about(number: f64) -> Opens {
        Opens { earliest: day(number - 2.0), likely: day(number), latest: day(number + 2.0) }
    }

    /// How pollen of a plant that opens on day 0 fits one that opens then.
    fn meeting(receiver: Opens, storage: &[StorageFigure], profile: &Profile) -> Meeting {
        let plant = |bench, opens| Flowering { bench, opens, profile, storage };
        let both = [plant("donor", about(0.0)), plant("receiver", receiver)];
        meetings(&both).into_iter().find(|meeting| meeting.donor == "donor").unwrap()
    }

    #[test]
    fn pollen_fits_fresh_kept_hardly_or_not_at_all() {
        let (profile, storage) = titan();
        let fit = |number: f64| meeting(about(number), &storage, &profile).fit;
        // pollen comes 22 to 60 h after the crack (Hawaii 2003, Fairchild 1998), receptive are the flowers at 3 to 18 h: a plant
        // that opens one or two days later takes it fresh, one that opens with it does not
        assert_eq!(fit(1.0), Fit::Fresh);
        assert_eq!(fit(2.0), Fit::Fresh);
        assert_eq!(fit(11.0), Fit::Keep);
        assert_eq!(fit(0.0), Fit::Unlikely);
        assert_eq!(fit(-9.0), Fit::TooLate);
        let kept = meeting(about(11.0), &storage, &profile);
        let (early, likely, late) = kept.keep_d;
        // 11 days less the 29 h to pollen (Bonn 1996) and plus the 3 h to receptive flowers
        assert!((likely - (11.0 - 26.0 / 24.0)).abs() < 1e-9, "{likely}");
        assert!((likely - early - 4.0).abs() < 1e-9 && (late - likely - 4.0).abs() < 1e-9);
        assert!(
            kept.ways.iter().any(|way| way.kept_c == (0.0, 10.0) && way.surely),
            "three weeks in the refrigerator"
        );
        assert!(
            !kept.ways.iter().any(|way| way.dried == Some(true) && way.good_d < 1.0),
            "what kills is no way"
        );
    }

    #[test]
    fn where_no_source_says_that_it_keeps_so_long_nothing_fits() {
        let (profile, storage) = titan();
        let far = meeting(about(1_200.0), &storage, &profile);
        assert_eq!((far.fit, far.ways.len(), far.fit.fits()), (Fit::TooLong, 0, false));
        assert_eq!(
            meeting(about(11.0), &[], &profile).fit,
            Fit::TooLong,
            "a taxon of which nothing is published"
        );
    }

    #[test]
    fn a_forecast_of_days_is_taken_in_the_hours_in_which_they_open_whatever_the_clocks_do() {
        let (profile, _) = titan();
        let date = |day| chrono::NaiveDate::from_ymd_opt(2027, 3, day).unwrap();
        let dates = OpeningDates { earliest: date(13), likely: date(14), latest: date(15) };
        let opens = Opens::on(&dates, &profile, chrono_tz::America::Halifax);
        // 14:00 local; daylight saving time begins in Halifax on 14 March 2027 (IANA time zone database)
        assert_eq!(opens.earliest.to_string(), "2027-03-13T18:00:00Z");
        assert_eq!(opens.likely.to_string(), "2027-03-14T17:00:00Z");
    }
}
