//! The folder of a rehearsal: configuration, store, recording, truth, the service's log, the ports' names.

use std::fs;
use std::io;
use std::path::{PathBuf, absolute};

use anthesisd::config::{self, Config};

use bench_sim::pty::Port;

/// The site where the rehearsal has its own broker.
const SITE: &str = "saltmarsh";
/// The site on a broker that others use, so that no topic of theirs is written to.
const SITE_AMONG_OTHERS: &str = "saltmarsh-rehearsal";

/// A broker that others use, and how to get in.
#[derive(Debug, Clone, clap::Args)]
pub struct OwnBroker {
    /// Send to your own broker instead, under the site's name saltmarsh-rehearsal, each message marked
    #[arg(long = "broker", value_name = "mqtt[s]://HOST[:PORT]")]
    pub url: Option<String>,
    /// The user to log in as there
    #[arg(long, requires = "url")]
    pub username: Option<String>,
    /// A file with that user's password, one line
    #[arg(long, requires = "username", value_name = "FILE")]
    pub password_file: Option<PathBuf>,
    /// Certificates, in PEM, of the authority that signed the broker's; the system's where left out
    #[arg(long, requires = "url", value_name = "FILE")]
    pub ca_file: Option<PathBuf>,
}

/// The folder.
#[derive(Debug)]
pub struct House {
    folder: PathBuf,
}

impl House {
    /// A new folder, which is kept.
    ///
    /// # Errors
    /// When it cannot be made.
    pub fn new() -> io::Result<Self> {
        let folder = tempfile::Builder::new().prefix("anthesisd-rehearsal-").tempdir()?.keep();
        fs::create_dir(folder.join("ports"))?;
        Ok(Self { folder })
    }

    /// The path of a file in it.
    pub(super) fn path(&self, name: &str) -> PathBuf {
        self.folder.join(name)
    }

    /// The configuration.
    pub(super) fn config_path(&self) -> PathBuf {
        self.path("anthesisd.toml")
    }

    /// The store.
    pub(super) fn store_path(&self) -> PathBuf {
        self.path("anthesisd.db")
    }

    /// What was played, as a recording.
    pub(super) fn recording_path(&self) -> PathBuf {
        self.path("recording.jsonl")
    }

    /// What really happened, as JSON.
    pub(super) fn truth_path(&self) -> PathBuf {
        self.path("truth.json")
    }

    /// What the service logged.
    pub fn log_path(&self) -> PathBuf {
        self.path("anthesisd.log")
    }

    /// Opens a pseudo-terminal.
    ///
    /// # Errors
    /// When the system has none left.
    pub(super) fn open_port(&self, name: &str) -> io::Result<Port> {
        Port::open(&self.path("ports").join(name))
    }

    /// Writes the configuration, which ends with `the_rest`, and reads it as the service would. Without a broker of the grower's
    /// the rehearsal's own listens on `port`.
    ///
    /// # Errors
    /// With every mistake: what the grower gave for the broker may be wrong.
    pub(super) fn configure(
        &self,
        own: &OwnBroker,
        port: u16,
        silent_after_min: u32,
        the_rest: &str,
    ) -> Result<Config, String> {
        let path = self.config_path();
        let text = configuration(own, port, silent_after_min)
            .map(|text| text + the_rest)
            .map_err(|error| format!("the working directory is not there: {error}"))?;
        fs::write(&path, text).map_err(|error| format!("{} cannot be written: {error}", path.display()))?;
        config::load(&path).map_err(|faults| faults.to_string())
    }
}

fn configuration(own: &OwnBroker, port: u16, silent_after_min: u32) -> io::Result<String> {
    let site = if own.url.is_some() { SITE_AMONG_OTHERS } else { SITE };
    let mut text = format!(
        "# The house of a rehearsal, as the service was given it.\n\n\
         [site]\nname = \"{site}\"\ntimezone = \"America/Halifax\"\n\n\
         [store]\npath = \"anthesisd.db\"\n\n\
         [alarm]\nsilent_after_min = {silent_after_min}\ntest_every_days = 0\n\n[mqtt]\n"
    );
    let mut key = |name: &str, value: &str| text.push_str(&format!("{name} = {}\n", quoted(value)));
    match &own.url {
        None => key("broker", &format!("mqtt://127.0.0.1:{port}")),
        Some(url) => key("broker", url),
    }
    if let Some(username) = &own.username {
        key("username", username);
    }
    for (name, path) in [("password_file", &own.password_file), ("ca_file", &own.ca_file)] {
        if let Some(path) = path {
            // a relative path would count from the folder of the configuration
            key(name, &absolute(path)?.to_string_lossy());
        }
    }
    Ok(text)
}

/// A TOML basic string; JSON's escapes are among its own (TOML 1.0, "String").
fn quoted(text: &str) -> String {
    serde_json::Value::from(text).to_string()
}
