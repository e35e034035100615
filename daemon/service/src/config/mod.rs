//! The configuration: one TOML file, refused with every mistake named, or read into a [`Config`] that cannot be wrong.

mod bench;
mod earlier;
mod endpoint;
mod fault;
pub(crate) mod files;
mod intake;
mod profile;
mod section;
mod site;
#[cfg(test)]
mod tests;
mod value;

use std::path::{Path, PathBuf};

use bloom_model::spec::SiteSpec;

pub use bench::{BenchConfig, HeightDatum};
pub use endpoint::{MqttConfig, PageConfig, ReadingsToConfig, TlsConfig};
pub use fault::{ConfigFault, ConfigFaults};
pub use intake::IntakeConfig;
pub use profile::{ProfileError, husbandries, profile};
pub use site::{AlarmCommand, AlarmConfig};
pub(crate) use value::suggestion;

use crate::whole_file::{read_bounded, unreadable};
use files::NamedFile;
use profile::Profiles;
use section::{Once, Section, line_at, read_document};
use value::text;

/// Where the configuration is looked for unless the command line says otherwise.
pub const DEFAULT_PATH: &str = "/etc/anthesisd/anthesisd.toml";

/// Where readings are kept unless set.
const STORE_PATH: &str = "/var/lib/anthesisd/anthesisd.db";

/// The most benches, and the most intakes, that one file may hold: far above any glass-house, far below trouble.
const MOST_ENTRIES: usize = 1000;

/// A configuration that is right, as far as a file can tell.
#[derive(Debug, Clone)]
pub struct Config {
    /// The glass-house.
    pub site: SiteSpec,
    /// The SQLite file with all readings and events; `/var/lib/anthesisd/anthesisd.db` unless set.
    pub store_path: PathBuf,
    /// The broker; `None` is without one.
    pub mqtt: Option<MqttConfig>,
    /// Ways to people beside MQTT.
    pub alarm: AlarmConfig,
    /// The page; `None` is without one.
    pub page: Option<PageConfig>,
    /// Where a copy of every reading goes; `None` is nowhere.
    pub readings_to: Option<ReadingsToConfig>,
    /// Where readings come from, in the order of the file; none is enough for `replay`.
    pub intakes: Vec<IntakeConfig>,
    /// The benches, in the order of the file; at least one.
    pub benches: Vec<BenchConfig>,
    /// The file that it was read from.
    pub path: PathBuf,
    named_files: Vec<NamedFile>,
}

/// Reads the configuration and looks at the files that it names: what a command needs that opens them.
///
/// # Errors
/// Every mistake found: of the file alone where there are any, else of the files that it names.
pub fn load(path: &Path) -> Result<Config, ConfigFaults> {
    let config = read(path)?;
    config.check_files()?;
    Ok(config)
}

/// Reads the configuration alone: enough for a command that opens no secret, and may be run by another user.
///
/// # Errors
/// Every mistake found in one pass.
pub fn read(path: &Path) -> Result<Config, ConfigFaults> {
    let bytes = read_bounded(path).map_err(|error| {
        ConfigFault::of_file(path, format!("{}; --config FILE names another", unreadable(&error)))
    })?;
    parse(&utf8(bytes, path)?, path)
}

/// Reads a configuration from its text. `origin` is the file's name in messages, and its folder is where relative paths
/// and a folder `profiles` are looked for.
///
/// # Errors
/// Every mistake found in one pass.
pub fn parse(text: &str, origin: &Path) -> Result<Config, ConfigFaults> {
    let (config, named_files) = read_document(text, origin, sections)?;
    Ok(Config { path: origin.to_owned(), named_files, ..config })
}

impl Config {
    /// Looks at the files that the configuration names: secrets that only their owner may read, an authority's
    /// certificates, the alarm command; and that no device stands behind two intakes under different names.
    ///
    /// Whether a device, the store or the broker serves is not asked: that may change while the service runs.
    ///
    /// # Errors
    /// Every file that is missing or unfit, with the key that names it.
    pub fn check_files(&self) -> Result<(), ConfigFaults> {
        let mut faults: Vec<_> = self.named_files.iter().filter_map(NamedFile::fault).collect();
        faults.extend(files::shared_sources(&self.named_files));
        if faults.is_empty() { Ok(()) } else { Err(ConfigFaults::new(faults)) }
    }
}

fn sections(file: &mut Section<'_>) -> Option<Config> {
    let alarm = file.table("alarm", site::alarm).unwrap_or_default();
    let example = "a section [site] with name = \"saltmarsh\" and timezone = \"America/Halifax\"";
    let site = file.required_table("site", example, |section| site::site(section, &alarm));
    let store_path =
        file.table("store", |store| store.optional("path", text).map(|path| store.path_of(&path)));
    let site_name = site.as_ref().map(|site| &*site.name);
    let mqtt = file.table("mqtt", |section| endpoint::mqtt(section, site_name));
    let page = file.table("page", endpoint::page);
    let readings_to = file.table("readings_to", endpoint::readings_to);
    let mut sources = Once::new();
    let intakes =
        file.tables("intake", "port", MOST_ENTRIES, |section| intake::intake(section, &mut sources));
    let (mut ids, mut profiles) = (Once::new(), Profiles::new());
    if !file.has("bench") {
        file.fault("bench", "is missing; add a section [[bench]] for each place that is watched");
    }
    let mut benches =
        file.tables("bench", "id", MOST_ENTRIES, |section| bench::bench(section, &mut ids, &mut profiles));
    earlier::hand_out(&file.tables("earlier_bloom", "profile", MOST_ENTRIES, earlier::earlier), &mut benches);
    Some(Config {
        site: site?,
        store_path: store_path.unwrap_or_else(|| PathBuf::from(STORE_PATH)),
        mqtt,
        alarm: alarm.config,
        page,
        readings_to,
        intakes,
        benches,
        path: PathBuf::new(),
        named_files: Vec::new(),
    })
}

/// A file's text.
///
/// # Errors
/// Where it is not UTF-8, with the line.
fn utf8(bytes: Vec<u8>, path: &Path) -> Result<String, ConfigFaults> {
    String::from_utf8(bytes).map_err(|error| {
        let line = line_at(error.as_bytes(), error.utf8_error().valid_up_to());
        let mut fault = ConfigFault::of_file(path, "is not UTF-8; save the file as UTF-8");
        fault.line = Some(line);
        fault.into()
    })
}
