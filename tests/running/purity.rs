//! The model and what words it, by themselves: linted alone, without the features that the rest of the house switches on, and under bans
//! on clock, files, environment and chance that a copy with each of them shows to bite.

use std::io;
use std::path::Path;
use std::process::Command;

fn repository() -> &'static Path {
    Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/.."))
}

/// A workspace of the two alone, in a folder of its own.
struct Alone {
    folder: tempfile::TempDir,
}

impl Alone {
    fn copy() -> io::Result<Self> {
        let folder = tempfile::tempdir()?;
        let root = std::fs::read_to_string(repository().join("Cargo.toml"))?;
        let alone: String = root
            .lines()
            .map(|line| {
                if line.starts_with("members = ") {
                    "members = [\"daemon/model\", \"daemon/text\"]"
                } else {
                    line
                }
            })
            .flat_map(|line| [line, "\n"])
            .collect();
        std::fs::write(folder.path().join("Cargo.toml"), alone)?;
        for part in ["Cargo.lock", "config/profiles", "daemon/model", "daemon/text"] {
            copy(&repository().join(part), &folder.path().join(part))?;
        }
        Ok(Self { folder })
    }

    fn with(package: &str, code: &str) -> io::Result<Self> {
        let alone = Self::copy()?;
        let path = alone.folder.path().join(package).join("src/lib.rs");
        let text = std::fs::read_to_string(&path)?;
        std::fs::write(path, format!("{text}\n{code}\n"))?;
        Ok(alone)
    }

    /// Whether clippy, with warnings denied, lets it pass; and what it says.
    fn lint(&self) -> io::Result<(bool, String)> {
        let said = Command::new("cargo")
            .args([
                "clippy",
                "--offline",
                "--quiet",
                "--package",
                "bloom-model",
                "--package",
                "bloom-text",
                "--target-dir",
            ])
            .arg(repository().join("target/purity"))
            .args(["--", "--deny", "warnings"])
            .current_dir(self.folder.path())
            .env("CLIPPY_CONF_DIR", self.folder.path().join("daemon/model"))
            .output()?;
        Ok((said.status.success(), String::from_utf8_lossy(&said.stderr).into_owned()))
    }
}

fn copy(from: &Path, to: &Path) -> io::Result<()> {
    if let Some(folder) = to.parent() {
        std::fs::create_dir_all(folder)?;
    }
    if from.is_file() {
        return std::fs::copy(from, to).map(|_| ());
    }
    for entry in std::fs::read_dir(from)? {
        let entry = entry?;
        copy(&entry.path(), &to.join(entry.file_name()))?;
    }
    Ok(())
}

#[test]
fn the_model_and_its_words_have_no_clock_no_files_no_environment_and_no_chance() -> io::Result<()> {
    let (passes, said) = Alone::copy()?.lint()?;
    assert!(passes, "as it is it passes: {said}");

    let with_a_clock = "/// Now.\npub fn now() -> chrono::DateTime<chrono::Utc> { chrono::Utc::now() }";
    for package in ["daemon/model", "daemon/text"] {
        let (passes, said) = Alone::with(package, with_a_clock)?.lint()?;
        assert!(!passes && said.contains("now"), "{package}: {said}");
    }

    let impure = r#"
/// What a model must not do.
pub fn impure() -> bool {
    println!("said");
    let known: std::collections::HashMap<u8, u8> = std::collections::HashMap::new();
    std::time::Instant::now().elapsed().is_zero()
        && std::time::SystemTime::now() == std::time::UNIX_EPOCH
        && std::fs::read("file").is_ok()
        && std::env::var("HOME").is_ok()
        && known.is_empty()
}"#;
    let (passes, said) = Alone::with("daemon/model", impure)?.lint()?;
    assert!(!passes);
    for banned in [
        "`std::println`",
        "`std::collections::HashMap`",
        "`std::time::Instant::now`",
        "`std::time::SystemTime::now`",
        "`std::fs::read`",
        "`std::env::var`",
    ] {
        assert!(said.contains("disallowed") && said.contains(banned), "{banned}: {said}");
    }
    Ok(())
}
