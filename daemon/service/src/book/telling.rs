//! Tonight's sheet, a look back, and a lot of pollen in sentences: the same on the terminal and on the page.

use bloom_model::book::season::Spread;
use bloom_model::book::storage::Standing;
use bloom_model::event::Window;
use bloom_model::time::Time;
use bloom_text::{outlook, when};
use chrono_tz::Tz;

use super::{Candidate, LookBack, LotView, Sheet, Windows, words};

/// The sheet of one bench in sentences.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SheetWords {
    /// Bench, plant, taxon.
    pub heading: String,
    /// When it opens or opened, when to pollinate.
    pub windows: Vec<String>,
    /// What is done already.
    pub done: Vec<String>,
    /// The lots that could serve, best first.
    pub pollen: Vec<Choice>,
    /// What to thaw or take out, or that nothing fits.
    pub thaw: String,
    /// When its own pollen comes; nothing for a bud that has most likely stopped.
    pub own_pollen: Option<String>,
}

/// A lot that could serve.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Choice {
    /// Whether it is to be recommended at all.
    pub recommended: bool,
    /// The lot.
    pub lot: String,
    /// How it is related, and whether a hybrid comes of it.
    pub kin: String,
}

/// Puts a sheet into sentences.
pub fn sheet(sheet: &Sheet, zone: Tz) -> SheetWords {
    let moment = |time: Time| when::moment(time, zone);
    let plant = sheet.plant.as_deref().unwrap_or("plant not named");
    let best = when::hours(sheet.best_hour);
    let mut windows = Vec::new();
    if let Some(opened) = sheet.opened {
        windows.push(format!("Open since about {}.", moment(opened)));
        windows.extend(sheet.full_open.map(|full| format!("Fully open since {}.", moment(full))));
        windows.extend(sheet.windows.map(|windows| pollinate(sheet, &windows.receptive, zone)));
    } else if let Some(told) = sheet.outlook {
        let said = outlook(&told.outlook, sheet.of_this_night);
        windows.push(format!("In bud: {said}. Forecast of {}.", moment(told.forecast_at)));
        windows.extend(sheet.windows.map(|Windows { receptive, .. }| {
            let (from, until) = (moment(receptive.from), moment(receptive.until));
            format!("Receptive between {from} and {until}, on the night it opens best {best}.")
        }));
    }
    let mut done: Vec<String> = sheet
        .crosses
        .iter()
        .map(|cross| format!("Done: pollinated with {} on {}.", cross.father, moment(cross.made)))
        .collect();
    if sheet.pollinated && sheet.crosses.is_empty() {
        done.push("Done: pollinated, recorded without its lot.".to_owned());
    }
    let thaw = match &sheet.thaw {
        // nobody knows the hour at which a bud opens
        Some(thaw) if sheet.opened.is_none() => format!(
            "On the night it opens: {} {} half an hour before it is wanted{} (common practice).",
            if thaw.frozen { "thaw one portion of" } else { "take out" },
            thaw.lot,
            if thaw.frozen { "; carry it cool and never freeze it again" } else { "" }
        ),
        Some(thaw) if thaw.frozen => format!(
            "Thaw one portion of {} at {}, just before use; carry it cool and never freeze it again (common practice).",
            thaw.lot,
            moment(thaw.at)
        ),
        Some(thaw) => {
            format!("Take out {} at {}, just before use (common practice).", thaw.lot, moment(thaw.at))
        }
        None if sheet.windows.is_none() => {
            "Nothing to thaw for a bud that has most likely stopped.".to_owned()
        }
        None if sheet.windows.is_some_and(|windows| windows.receptive.until <= sheet.now) => {
            "Nothing to thaw: pollination hours are over.".to_owned()
        }
        None => "No pollen in the bank is fresh enough and unrelated. Ask elsewhere.".to_owned(),
    };
    let collected = if sheet.collected { " Collected." } else { "" };
    SheetWords {
        heading: format!("{}: {plant}, {}", sheet.bench, sheet.taxon),
        windows,
        done,
        pollen: sheet.pollen.iter().map(|candidate| choice(candidate, zone)).collect(),
        thaw,
        own_pollen: sheet
            .windows
            .map(|windows| format!("{}{collected}", own_pollen(&windows, sheet.now, zone))),
    }
}

/// When to pollinate one that is open: no hour that is past is offered.
fn pollinate(sheet: &Sheet, receptive: &Window, zone: Tz) -> String {
    let Window { from, until } = *receptive;
    if until <= sheet.now {
        return format!(
            "Pollination hours are over by the books ({}): try only if stigmas are moist.",
            when::moment(until, zone)
        );
    }
    let when = if from <= sheet.now {
        format!("now, until {}", when::moment(until, zone))
    } else {
        when::window(receptive, zone)
    };
    match &sheet.best {
        Some(best) => format!("Pollinate {when}, best {}.", when::window(best, zone)),
        None => format!("Pollinate {when}."),
    }
}

/// When its own pollen comes.
fn own_pollen(windows: &Windows, now: Time, zone: Tz) -> String {
    let Window { from, until } = windows.collect;
    if until <= now {
        return format!("Own pollen: its hours are over by the books ({}).", when::moment(until, zone));
    }
    let when = if from <= now {
        format!("now, until {}", when::moment(until, zone))
    } else {
        when::window(&windows.collect, zone)
    };
    if windows.collect_likely > now {
        format!("Own pollen {when}, most likely about {}.", when::moment(windows.collect_likely, zone))
    } else {
        format!("Own pollen {when}.")
    }
}

fn choice(candidate: &Candidate, zone: Tz) -> Choice {
    let relation = candidate.relation.as_ref().map(words::relation);
    let hybrid = if candidate.hybrid { "a hybrid; " } else { "" };
    Choice {
        recommended: candidate.recommended,
        lot: lot(&candidate.lot, zone),
        kin: format!("{hybrid}{}", relation.as_deref().unwrap_or("kinship not known")),
    }
}

/// A lot in one line.
pub fn lot(view: &LotView, zone: Tz) -> String {
    let lot = &view.lot;
    let mut line = format!("{}: {} of {} portions", lot.name, lot.left, lot.portions);
    if let Some(keeps) = &view.keeps {
        line.push_str(&format!(", {} old", when::long_span(keeps.age_d)));
    }
    match lot.place() {
        Some(storage) => line.push_str(&format!(", {}", words::kept(storage))),
        None => line.push_str(", not stored"),
    }
    match view.keeps.as_ref().and_then(|keeps| keeps.figure_d) {
        Some(figure) if view.standing() == Standing::Within => {
            line.push_str(&format!("; published: good for {}", when::long_spans(figure)));
        }
        Some(figure) => {
            line.push_str(&format!("; {} ({})", view.standing().words(), when::long_spans(figure)));
        }
        None => line.push_str(&format!("; {}", view.standing().words())),
    }
    if let Some((_, longest)) = view.keeps.as_ref().and_then(|keeps| keeps.good_until)
        && view.standing() != Standing::Past
    {
        line.push_str(&format!(", to {}", when::date(longest, zone)));
    }
    if let Some(test) = lot.tests.last() {
        line.push_str(&format!("; germination {} %", test.germination_pct));
    }
    if lot.discarded.is_some() {
        line.push_str("; thrown away");
    }
    line
}

/// A look back in lines: its stages, its spans beside earlier ones, what came of it, what was missed.
pub fn look(look: &LookBack, zone: Tz) -> Vec<String> {
    let moment = |time: Time| when::moment(time, zone);
    let staged = look.bloom.staged().into_iter().filter_map(|(stage, booked, sensed)| {
        let when = match (booked, sensed) {
            (Some(booked), Some(sensed)) => {
                format!("{} as recorded, {} as sensed", moment(booked), moment(sensed))
            }
            (Some(booked), None) => format!("{} as recorded", moment(booked)),
            (None, Some(sensed)) => format!("{} as sensed", moment(sensed)),
            (None, None) => return None,
        };
        Some(format!("{stage}: {when}"))
    });
    let compared = look.compared.iter().map(|compared| {
        let here =
            compared.here.map_or("not known".to_owned(), |here| format!("{here:.1} {}", compared.unit));
        let beside = |whose: &str, spread: &Option<Spread>| {
            spread.map_or(String::new(), |of| {
                format!(
                    "; {whose} {:.1} ({:.1} to {:.1}, {} blooms)",
                    of.median, of.least, of.most, of.blooms
                )
            })
        };
        format!(
            "{}: {here}{}{}",
            compared.span,
            beside("this plant before", &compared.of_plant),
            beside("the house before", &compared.of_house)
        )
    });
    let weighed = look
        .weighed
        .map(|weighed| format!("corm {} kg on {}", weighed.mass_kg, when::date(weighed.time, zone)));
    let crosses = look.crosses.iter().map(|cross| format!("cross {}: with {}", cross.name, cross.father));
    let lots = look.lots.iter().map(|lot| format!("pollen {}: {} portions", lot.name, lot.portions));
    staged
        .chain(compared)
        .chain(weighed)
        .chain(crosses)
        .chain(lots)
        .chain(next_time(look).map(|missed| format!("next time: {missed}")))
        .collect()
}

/// What was missed, for the next time. Nothing before the bloom is over: until then it is still to come.
pub fn next_time(look: &LookBack) -> impl Iterator<Item = &str> {
    let is_over = look.bloom.life.over().is_some();
    look.missed.iter().filter(move |_| is_over).map(String::as_str)
}
