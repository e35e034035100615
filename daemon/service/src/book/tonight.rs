//! Tonight's sheet: for one plant that opens or soon will, the windows, the pollen that could serve, what to thaw and when, the
//! kit, and the cautions.

use std::sync::Arc;

use bloom_model::bloom::hours::{best_hours, receptive};
use bloom_model::book::bloom::BloomRecord;
use bloom_model::book::cross::Cross;
use bloom_model::book::kinship::{Degree, Relation};
use bloom_model::book::ledger::is_hybrid;
use bloom_model::book::overlap::Opens;
use bloom_model::book::storage::Standing;
use bloom_model::event::{EventKind, Window};
use bloom_model::forecast::{Tidings, ToldOutlook};
use bloom_model::sign::PlainSign;
use bloom_model::time::Time;
use schemars::JsonSchema;
use serde::Serialize;

use super::bank::{LotView, bank};
use super::plan::Refusal;
use super::{Bench, HouseBook};

/// Thawing begins this long before the pollen is wanted, h. Common practice, no source: just before use.
const THAW_BEFORE_H: f64 = 0.5;
/// Pollen kept colder than this is frozen, °C.
const FROZEN_BELOW_C: f64 = 0.0;
/// A bloom that closed longer ago than this is no matter of tonight, h: pollen is swept for a while after.
const STILL_TONIGHT_H: f64 = 24.0;

/// What to bring. Common practice: a knife for the window, brush, trays and the rest are what growers report.
pub const KIT: [&str; 10] = [
    "gloves and goggles",
    "a mask",
    "a head torch",
    "a sharp clean knife for a window low in the spathe",
    "a soft brush for each lot",
    "the thawed pollen in a cool box",
    "labels and a pencil",
    "trays for tomorrow's pollen, and dry vials",
    "a level ladder",
    "a thermometer for the spadix",
];

/// What can hurt, whatever stage the plants are at. Common practice in the words of the usual guidance; local codes and licensed
/// practice come first, and stand last, where they are read. 40 CFR 170 is the one rule that was looked up; the others (HSE on
/// ladders, ISO 7243 and NIOSH on heat, IEC 60364-7-705 on mains in farm buildings) were known from memory and are not cited to the
/// person on the ladder.
pub const CAUTIONS: [&str; 14] = [
    "Sap and fruit hold needle crystals of calcium oxalate: gloves and goggles, no hand to the mouth, wash before you eat. In the eye: \
     rinse for long, and see a doctor.",
    "Ladder: level ground, beside the pot and never over its lip, three points of contact, short spells, somebody at its foot. Look from \
     the ground or by camera where you can.",
    "Knife: cut away from the hand that holds, and put it down before you climb.",
    "Heat: bloom houses reach 35 to 41 °C. Short spells, water, stop when dizzy.",
    "Mains near water: everything behind a 30 mA residual-current device, lamps of extra-low voltage, no hand into a wet board.",
    "Emergency heat: no open flame and no gas heater in a closed house (carbon monoxide, fire); splash-proof electric heaters behind the \
     residual-current device. Nobody goes onto roof or glass to shade it.",
    "Cold: vials at -80 °C, dry ice and liquid nitrogen burn skin and eyes: insulated gloves, goggles. Dry ice and nitrogen take the air \
     of a small room or a car: open it, and never close them tightly.",
    "Carbon dioxide: where the house is dosed, dosing off and the house aired before anybody works in it at night.",
    "Smell and pollen in a closed house: air it, wear the mask.",
    "Pesticides: ask whether it was sprayed today. Nobody goes in before the label's re-entry interval is over (40 CFR 170), and nothing \
     is sprayed while flowers are receptive.",
    "Weight: a potted corm can weigh over 100 kg. Lift it with a trolley or a hoist and enough people, never alone.",
    "At night not alone: a second person, or somebody who expects your call at a set hour and comes if it does not come.",
    "Unwell, or somebody hurt: out into the air first, then call for help.",
    "This list is common practice and not complete. Local codes come first; wiring, gas and lifting gear are for licensed practice.",
];

/// The sheet of one bench.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Sheet {
    /// The bench.
    pub bench: Arc<str>,
    /// Its plant.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub plant: Option<String>,
    /// The plant's taxon.
    pub taxon: String,
    /// The bloom.
    pub bloom: Arc<str>,
    /// The first crack, once it opened.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub opened: Option<Time>,
    /// Since when it has been fully open.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub full_open: Option<Time>,
    /// The forecast that was told last, while in bud.
    #[serde(flatten, skip_serializing_if = "Option::is_none")]
    pub outlook: Option<ToldOutlook>,
    /// What that forecast says of tonight is of this night.
    #[serde(skip)]
    pub of_this_night: bool,
    /// When to act; left out for a bud that has most likely stopped.
    #[serde(flatten, skip_serializing_if = "Option::is_none")]
    pub windows: Option<Windows>,
    /// The best local hours for pollination.
    pub best_hour: (f64, f64),
    /// Those of them that are still to come while it is receptive, once it opened.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub best: Option<Window>,
    /// The moment of which the sheet speaks.
    #[serde(skip)]
    pub now: Time,
    /// Lots that could serve, best first.
    pub pollen: Vec<Candidate>,
    /// What to thaw or take out for the best of them, and when.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub thaw: Option<Thawing>,
    /// Pollinations of this bloom that are booked.
    pub crosses: Vec<Cross>,
    /// A pollination of this bloom is booked, as a cross or as a sign.
    pub pollinated: bool,
    /// Its pollen was collected.
    pub collected: bool,
    /// What to bring.
    pub kit: &'static [&'static str],
    /// What can hurt.
    pub cautions: &'static [&'static str],
}

/// When to pollinate and to collect.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Windows {
    /// When to pollinate: counted from the crack, or while in bud from the earliest and the latest likely opening.
    pub receptive: Window,
    /// When this plant's own pollen is to be collected.
    pub collect: Window,
    /// When it is most likely shed.
    pub collect_likely: Time,
}

/// A lot that could serve.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Candidate {
    /// The lot.
    #[serde(flatten)]
    pub lot: LotView,
    /// How its plant and this one are related; left out where this one is not known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub relation: Option<Relation>,
    /// It is of another taxon.
    pub hybrid: bool,
    /// Whether it is to be recommended at all: neither close kin nor past its figure.
    pub recommended: bool,
}

/// What to thaw or take out.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Thawing {
    /// The lot.
    pub lot: String,
    /// When.
    pub at: Time,
    /// It is frozen; otherwise it is only taken out.
    pub frozen: bool,
}

/// The sheets of all benches with a bloom that is open or in bud, or of one bench; those that are open first, then by when they
/// are likely to open.
///
/// # Errors
/// If the pedigree in the book bites its own tail.
pub fn sheets(house: &HouseBook, only: Option<&str>, now: Time) -> Result<Vec<Sheet>, Refusal> {
    let mut sheets = Vec::new();
    for bench in house.benches.iter().filter(|bench| only.is_none_or(|only| &*bench.id == only)) {
        if let Some(bloom) = house.bloom_at(&bench.id, now)
            && let Some(sheet) = sheet(house, bench, bloom, now)?
        {
            sheets.push(sheet);
        }
    }
    sheets.sort_by_key(|sheet| {
        let dates = sheet.outlook.and_then(|told| told.outlook.dates());
        // those that have most likely stopped come last
        (sheet.opened.is_none(), sheet.windows.is_none(), dates.map(|opens| opens.likely))
    });
    Ok(sheets)
}

/// What is to come of a bloom that is in bud or in flower.
enum Coming {
    /// It opened or is likely to open then.
    Opens(Opens),
    /// It has most likely stopped in bud.
    Stopped,
}

/// When a bloom opened or is likely to, as its bench's numbers have it. `None` for one that is over or has most likely stopped.
pub(super) fn opens(house: &HouseBook, bench: &Bench, bloom: &BloomRecord, now: Time) -> Option<Opens> {
    match coming(house, bench, bloom, now)? {
        Coming::Opens(opens) => Some(opens),
        Coming::Stopped => None,
    }
}

/// What is to come of a bloom; `None` for one that is over.
fn coming(house: &HouseBook, bench: &Bench, bloom: &BloomRecord, now: Time) -> Option<Coming> {
    let past = |(over, how)| how == EventKind::Aborted || now.hours_since(over) > STILL_TONIGHT_H;
    if bloom.life.over().is_some_and(past) {
        return None;
    }
    match bloom.stages().opened {
        Some(opened) if opened <= now => {
            // without a sensor nobody may have said that it closed
            let over_after_h = bench.profile.open_for_h.max(bench.profile.pollen_until_h) + STILL_TONIGHT_H;
            (now.hours_since(opened) <= over_after_h).then_some(Coming::Opens(Opens::seen(opened)))
        }
        _ => Some(match bloom.outlook?.outlook.tidings() {
            Tidings::Stopped(_) => Coming::Stopped,
            Tidings::Opens { dates, .. } => Coming::Opens(Opens::on(&dates, &bench.profile, house.zone)),
        }),
    }
}

fn sheet(house: &HouseBook, bench: &Bench, bloom: &BloomRecord, now: Time) -> Result<Option<Sheet>, Refusal> {
    let opens = match coming(house, bench, bloom, now) {
        None => return Ok(None),
        Some(Coming::Opens(opens)) => Some(opens),
        Some(Coming::Stopped) => None,
    };
    let profile = &bench.profile;
    let plant = bloom.plant.as_deref().or(bench.plant.as_deref());
    let pollen = candidates(house, plant, now)?;
    let opened = bloom.stages().opened.filter(|opened| *opened <= now);
    // the best hours of the evening after the crack, if it is not later already
    let wanted = opens.map(|opens| {
        let best = Time::at_local_hour(
            opens.likely.local_date(house.zone),
            profile.receptive_best_from_hour,
            house.zone,
        );
        receptive(opens.likely, profile).from.max(best).max(now)
    });
    let windows = opens.map(|opens| Windows {
        receptive: Window {
            from: receptive(opens.earliest, profile).from,
            until: receptive(opens.latest, profile).until,
        },
        collect: Window {
            from: opens.earliest.plus_hours(profile.pollen_from_h),
            until: opens.latest.plus_hours(profile.pollen_until_h),
        },
        collect_likely: opens.likely.plus_hours(profile.pollen_likely_h),
    });
    // what is wanted after the receptive hours is wanted no more
    let wanted = wanted.filter(|_| windows.is_some_and(|windows| windows.receptive.until > now));
    let fit = pollen.iter().find(|candidate| candidate.recommended);
    let thaw = fit.zip(wanted).map(|(candidate, wanted)| {
        let kept_c = candidate.lot.lot.place().map(|storage| storage.kept_c);
        let frozen = kept_c.is_some_and(|kept_c| kept_c < FROZEN_BELOW_C);
        let at = wanted.plus_hours(-THAW_BEFORE_H).max(now);
        Thawing { lot: candidate.lot.lot.name.clone(), at, frozen }
    });
    let crosses: Vec<Cross> = house
        .book
        .crosses
        .values()
        .filter(|cross| cross.bloom.as_deref() == Some(&*bloom.id))
        .cloned()
        .collect();
    Ok(Some(Sheet {
        bench: Arc::clone(&bench.id),
        plant: plant.map(str::to_owned),
        taxon: plant.and_then(|plant| house.taxon(plant)).unwrap_or_else(|| profile.taxon.clone()),
        bloom: Arc::clone(&bloom.id),
        opened,
        full_open: bloom.stages().full_open.filter(|full| opened.is_some() && *full <= now),
        outlook: bloom.outlook.filter(|_| opened.is_none()),
        of_this_night: bloom.outlook.is_some_and(|told| told.tonight(now).is_some()),
        windows,
        best_hour: (profile.receptive_best_from_hour, profile.receptive_best_until_hour),
        best: windows
            .filter(|_| opened.is_some())
            .and_then(|windows| best_hours(&windows.receptive, now, profile, house.zone)),
        now,
        pollen,
        thaw,
        pollinated: !crosses.is_empty() || bloom.has(PlainSign::Pollinated),
        collected: bloom.has(PlainSign::PollenCollected),
        crosses,
        kit: &KIT,
        cautions: &CAUTIONS,
    }))
}

/// Lots with portions left that could serve a plant, best first: those that are no close kin and not past their figure; among
/// them unrelated before unknown, the same taxon before another, the longer keeping before the shorter.
fn candidates(house: &HouseBook, plant: Option<&str>, now: Time) -> Result<Vec<Candidate>, Refusal> {
    let taxon = plant.and_then(|plant| house.taxon(plant));
    let mut candidates = Vec::new();
    for lot in bank(house, now).into_iter().filter(|lot| lot.lot.left > 0) {
        let relation = plant.map(|plant| house.relation(plant, &lot.lot.plant)).transpose()?;
        let close = relation.is_some_and(|relation| relation.is_close());
        candidates.push(Candidate {
            hybrid: is_hybrid(taxon.as_deref(), lot.taxon.as_deref()),
            recommended: !close && lot.standing() != Standing::Past,
            relation,
            lot,
        });
    }
    // a stable sort: within a group the bank's order stays, first what comes to its figure first
    candidates.sort_by_key(|candidate| {
        let close = candidate.relation.is_some_and(|relation| relation.is_close());
        let degree = candidate.relation.map_or(Degree::Unknown, |relation| relation.degree);
        (
            close,
            candidate.lot.standing() == Standing::Past,
            candidate.hybrid,
            degree,
            candidate.lot.standing(),
        )
    });
    Ok(candidates)
}
