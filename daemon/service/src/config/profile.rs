//! Profiles: the numbers of a kind of plant, each with its source, from data files.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use bloom_model::book::entry::Colour;
use bloom_model::book::husbandry::{ColourFigure, Husbandry, RipeningFigure};
use bloom_model::book::storage::StorageFigure;
use bloom_model::profile::{Profile, ProfileFault};

use super::fault::{ConfigFault, ConfigFaults};
use super::section::{Section, read_document};
use super::utf8;
use super::value::{between, flag, number, one_of, pair, suggestion, text};
use crate::whole_file::{read_bounded, unreadable};

/// The profiles that the binary brings along.
const BUILT_IN: [(&str, &str); 3] = [
    ("titan-arum", include_str!("../../../../config/profiles/titan-arum.toml")),
    (
        "amorphophallus-paeoniifolius",
        include_str!("../../../../config/profiles/amorphophallus-paeoniifolius.toml"),
    ),
    ("pitaya", include_str!("../../../../config/profiles/pitaya.toml")),
];

/// Where the machine keeps profiles of its own.
const MACHINE_FOLDER: &str = "/etc/anthesisd/profiles";

/// A profile that there is not, or that is wrong.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ProfileError {
    /// No profile has that name.
    #[error("there is no profile {name:?}; {remedy}")]
    Unknown {
        /// The name as given.
        name: String,
        /// What would be right.
        remedy: String,
    },
    /// The profile's file is wrong.
    #[error(transparent)]
    Wrong(#[from] ConfigFaults),
}

/// The profile of that name: from `profiles/` in `folder`, which is the configuration's, else from
/// `/etc/anthesisd/profiles`, else the one that the binary brings along.
///
/// # Errors
/// When there is none of that name, or its file is wrong; a wrong file is never passed over for the next.
pub fn profile(name: &str, folder: &Path) -> Result<Profile, ProfileError> {
    find(name, folder).map(|(profile, _)| profile)
}

/// What every profile that a configuration could name says of keeping pollen and of fruit, by taxon.
///
/// # Errors
/// When a profile's file is wrong.
pub fn husbandries(folder: &Path) -> Result<Vec<Husbandry>, ProfileError> {
    let names = names_in(&folders(folder));
    names.iter().map(|name| find(name, folder).map(|(_, husbandry)| husbandry)).collect()
}

/// Where profiles are looked for before the built-in ones.
fn folders(folder: &Path) -> [PathBuf; 2] {
    [folder.join("profiles"), PathBuf::from(MACHINE_FOLDER)]
}

fn find(name: &str, folder: &Path) -> Result<(Profile, Husbandry), ProfileError> {
    let folders = folders(folder);
    if is_name(name) {
        for folder in &folders {
            let file = folder.join(format!("{name}.toml"));
            match read_bounded(&file) {
                Ok(bytes) => return Ok(parse(name, &utf8(bytes, &file)?, &file)?),
                Err(error) if error.kind() == std::io::ErrorKind::NotFound => {}
                Err(error) => {
                    return Err(ConfigFaults::from(ConfigFault::of_file(file, unreadable(&error))).into());
                }
            }
        }
        if let Some((_, text)) = BUILT_IN.iter().find(|(known, _)| *known == name) {
            return Ok(parse(name, text, Path::new(&format!("the built-in {name}.toml")))?);
        }
    }
    let known = names_in(&folders);
    let remedy = suggestion(name, known.iter().map(String::as_str), "those there are:");
    Err(ProfileError::Unknown { name: name.to_owned(), remedy })
}

/// A name that stays inside its folder.
fn is_name(name: &str) -> bool {
    !name.is_empty() && name.bytes().all(|byte| matches!(byte, b'a'..=b'z' | b'0'..=b'9' | b'-'))
}

/// The names of all profiles; a folder that cannot be listed adds none.
fn names_in(folders: &[PathBuf]) -> Vec<String> {
    let files = folders.iter().filter_map(|folder| folder.read_dir().ok()).flatten().flatten();
    let mut names: Vec<String> = files
        .map(|file| file.path())
        .filter(|path| path.extension().is_some_and(|extension| extension == "toml"))
        .filter_map(|path| path.file_stem()?.to_str().map(str::to_owned))
        .filter(|name| is_name(name))
        .chain(BUILT_IN.iter().map(|(name, _)| (*name).to_owned()))
        .collect();
    names.sort();
    names.dedup();
    names
}

/// Reads a profile from its file: a name, a taxon, and a table with value and source for each number.
fn parse(name: &str, text: &str, origin: &Path) -> Result<(Profile, Husbandry), ConfigFaults> {
    read_document(text, origin, |file| {
        let husbandry = husbandry(file);
        let profile = read(name, file)?;
        let taxon = profile.taxon.clone();
        Some((profile, Husbandry { taxon, ..husbandry }))
    })
    .map(|(read, _)| read)
}

/// Figures in a list at most: more than there are sources.
const MOST_FIGURES: usize = 100;

/// The lists of figures for the bloom book. Each may be left out: what nobody has published is not made up.
fn husbandry(file: &mut Section<'_>) -> Husbandry {
    let source = |entry: &mut Section<'_>| entry.required("source", "\"own record of 2027\"", text);
    let storage = file.tables("pollen_storage", "source", MOST_FIGURES, |entry| {
        let possible = |value: f64| {
            Some(value)
                .filter(|value| (-200.0..=45.0).contains(value))
                .ok_or_else(|| "lies outside -200 to 45 °C".to_owned())
        };
        let kept_c = entry.required("kept_c", "[-90, -60]", pair(possible, "[-90, -60]"));
        let dried = entry.optional("dried", flag);
        let good_d = entry.required("good_d", "730", between(0.0, 36_500.0, "days"));
        let good_at_most_d = entry.optional("good_at_most_d", between(0.0, 36_500.0, "days"));
        let source = source(entry);
        let good_d = good_d?;
        Some(StorageFigure {
            kept_c: kept_c?,
            dried,
            good_d,
            good_at_most_d: good_at_most_d.unwrap_or(good_d).max(good_d),
            source: source?,
        })
    });
    let ripening = file.tables("fruit_ripening", "source", MOST_FIGURES, |entry| {
        let days = entry.required("days", "281", between(1.0, 2_000.0, "days"));
        let days_at_most = entry.optional("days_at_most", between(1.0, 2_000.0, "days"));
        let common_practice = entry.optional("common_practice", flag).unwrap_or(false);
        let source = source(entry);
        let days = days?;
        let days_at_most = days_at_most.unwrap_or(days).max(days);
        Some(RipeningFigure { days, days_at_most, common_practice, source: source? })
    });
    let colours = file.tables("fruit_colour", "source", MOST_FIGURES, |entry| {
        let colour = entry.required("colour", "\"orange\"", one_of(&Colour::NAMES));
        let days = entry.required("days", "81", between(1.0, 2_000.0, "days"));
        let source = source(entry);
        Some(ColourFigure { colour: colour?, days: days?, source: source? })
    });
    Husbandry { taxon: String::new(), storage, ripening, colours }
}

fn read(expected: &str, file: &mut Section<'_>) -> Option<Profile> {
    let name = file.required("name", &format!("\"{expected}\""), text);
    if name.as_ref().is_some_and(|name| name != expected) {
        file.fault("name", format!("differs from the file's name; write name = \"{expected}\""));
    }
    let taxon = file.required("taxon", "\"Amorphophallus titanum\"", text);
    let mut numbers = Vec::new();
    for key in Profile::KEYS {
        let example = format!("[{key}] with a value and a source");
        let value = file.required_table(key, &example, |entry| {
            let source = entry.required("source", "\"own record of 2027\"", text);
            let value = entry.required("value", "1.0", number);
            source.and(value)
        });
        numbers.extend(value.map(|value| (*key, value)));
    }
    let faults = match Profile::from_numbers(&name?, &taxon?, numbers) {
        Ok(profile) => return Some(profile),
        Err(faults) => faults,
    };
    for fault in &faults {
        // What is missing was recorded where its table was not found.
        if let ProfileFault::OutOfBounds { key, value, .. } = fault {
            file.fault(key, format!("value = {value} {}", bounds_of(fault)));
        }
    }
    None
}

/// Profiles for the benches of one file: each is read once, and each mistake in one is told once.
pub(super) struct Profiles(BTreeMap<String, Option<Profile>>);

impl Profiles {
    /// None read yet.
    pub(super) const fn new() -> Self {
        Self(BTreeMap::new())
    }

    /// The profile that a bench names by its key `profile`, if it can be had; what stands against it is recorded.
    pub(super) fn find(&mut self, name: &str, bench: &Section<'_>) -> Option<Profile> {
        if let Some(known) = self.0.get(name) {
            return known.clone();
        }
        let found = match profile(name, bench.folder()) {
            Ok(profile) => Some(profile),
            Err(ProfileError::Unknown { remedy, .. }) => {
                bench.fault("profile", format!("there is no such profile; {remedy}"));
                return None;
            }
            Err(ProfileError::Wrong(faults)) => {
                faults.into_iter().for_each(|fault| bench.record(fault));
                None
            }
        };
        self.0.insert(name.to_owned(), found.clone());
        found
    }
}

/// What is wrong with a number of a profile, beside its place.
pub(super) fn bounds_of(fault: &ProfileFault) -> String {
    match fault {
        ProfileFault::OutOfBounds { lowest, highest, .. } => {
            format!("lies outside {lowest} to {highest}; give a value between them")
        }
        other => other.to_string(),
    }
}
