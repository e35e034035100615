//! Names as people type them: found whatever their capitals, and the nearest one suggested where there is none.

use super::HouseBook;
use super::plan::Refusal;
use crate::config::suggestion;

/// A plant, and its bench where it was named by that or stands on one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Named {
    /// The accession.
    pub plant: String,
    /// The bench's id.
    pub bench: Option<String>,
}

impl HouseBook {
    /// The plant that a person means by an accession or by the bench it stands on.
    ///
    /// # Errors
    /// With the nearest name, if there is none such, or if the bench names no plant.
    pub fn plant_named(&self, name: &str) -> Result<Named, Refusal> {
        if let Some(plant) = self.plant_names().find(|plant| plant.eq_ignore_ascii_case(name)) {
            let bench = self.bench_of(plant).map(|bench| bench.id.to_string());
            return Ok(Named { plant: plant.to_owned(), bench });
        }
        if let Some(bench) = self.bench(name) {
            let plant = bench.plant.as_deref().ok_or_else(|| {
                Refusal::usage(format!(
                    "the configuration names no plant for bench {name}: add plant = \"ACCESSION\" there, or name the plant"
                ))
            })?;
            return Ok(Named { plant: plant.to_owned(), bench: Some(bench.id.to_string()) });
        }
        let known: Vec<&str> =
            self.plant_names().chain(self.benches.iter().map(|bench| &*bench.id)).collect();
        Err(unknown("plant or bench", name, &known, "anthesisd plant NAME add takes up a new plant"))
    }

    /// The lot that a person means.
    ///
    /// # Errors
    /// With the nearest name, if there is none such.
    pub fn lot_named(&self, name: &str) -> Result<&str, Refusal> {
        let known: Vec<&str> = self.book.lots.keys().map(String::as_str).collect();
        find(&known, name)
            .ok_or_else(|| unknown("lot of pollen", name, &known, "anthesisd pollen lists them"))
    }

    /// The cross that a person means, by its name, or by the plant or bench on which one grows.
    ///
    /// # Errors
    /// With the nearest name, if there is none such, or several.
    pub fn cross_named(&self, name: &str) -> Result<&str, Refusal> {
        let known: Vec<&str> = self.book.crosses.keys().map(String::as_str).collect();
        if let Some(cross) = find(&known, name) {
            return Ok(cross);
        }
        let Ok(named) = self.plant_named(name) else {
            return Err(unknown("cross, plant or bench", name, &known, "anthesisd fruit lists the crosses"));
        };
        let mut on_it: Vec<_> =
            self.book.crosses.values().filter(|cross| cross.mother == named.plant).collect();
        on_it.sort_by_key(|cross| cross.made);
        let newest = on_it.last().ok_or_else(|| {
            Refusal::usage(format!(
                "no pollination of {} is in the book: anthesisd cross {name} LOT books one",
                named.plant
            ))
        })?;
        // several crosses of one bloom, and the person must say which; older blooms are over
        let rivals: Vec<&str> = on_it
            .iter()
            .filter(|cross| newest.made.days_since(cross.made) < 30.0)
            .map(|cross| cross.name.as_str())
            .collect();
        match rivals.as_slice() {
            [one] => Ok(one),
            several => Err(Refusal::usage(format!(
                "{} carries several crosses, {}: name the one you mean",
                named.plant,
                several.join(", ")
            ))),
        }
    }
}

fn find<'a>(known: &[&'a str], name: &str) -> Option<&'a str> {
    known.iter().copied().find(|known| known.eq_ignore_ascii_case(name))
}

fn unknown(kind: &str, name: &str, known: &[&str], remedy: &str) -> Refusal {
    if known.is_empty() {
        return Refusal::usage(format!("there is no {kind} {name:?}, and none at all yet; {remedy}"));
    }
    let suggested = suggestion(name, known.iter().copied(), "there are");
    let joint = if suggested.ends_with('?') { "" } else { ";" };
    Refusal::usage(format!("there is no {kind} {name:?}; {suggested}{joint} {remedy}"))
}
