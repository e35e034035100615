//! Every sample configuration is a right one: `check` finds no mistake in it, whatever this machine lacks of what it names.

use std::fs;
use std::os::unix::fs::PermissionsExt;

use anthesisd::config;
use end_to_end::house::{anthesisd, said};

use super::{file, text};

#[test]
fn check_takes_every_sample_that_is_shipped() {
    let mut samples = 0;
    for entry in fs::read_dir(file("config")).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_some_and(|extension| extension == "toml") {
            let output = anthesisd().arg("--config").arg(&path).arg("check").output().unwrap();
            let (name, told) = (path.display(), String::from_utf8_lossy(&output.stdout));
            assert!(told.starts_with(&format!("configuration {name}: right")), "{name}: {}", said(&output));
            // its ports and its broker are not on this machine, and that is no mistake of the file; whatever else fails is
            let of_this_machine =
                |line: &str| ["intake ", "broker "].iter().any(|what| line.starts_with(what));
            for line in told.lines().filter(|line| line.contains(": FAILS: ")) {
                assert!(of_this_machine(line), "{name}: {line}");
            }
            assert_eq!(output.status.code(), Some(1), "{name}: {}", said(&output));
            samples += 1;
        }
    }
    assert_eq!(samples, 2, "the sample, and the house of the handbook's walk");
}

/// The sections that the sample shows in comments, and those of the handbook, each put to a house of its own.
#[test]
fn what_the_texts_show_of_a_configuration_is_right() {
    let shown = |text: &str| -> Vec<String> {
        let mut sections: Vec<String> = Vec::new();
        let mut open = false;
        for line in text.lines() {
            let line = line.strip_prefix('#').unwrap_or(line);
            match line.strip_prefix("    ").map(str::trim_start) {
                Some(line) if line.starts_with('[') && !line.starts_with("[{") => {
                    sections.push(format!("{line}\n"));
                    open = true;
                }
                Some(line) if open && line.contains(" = ") => {
                    sections.last_mut().unwrap().push_str(&format!("{line}\n"));
                }
                _ => open = false,
            }
        }
        sections
    };
    let sections = [shown(&text("config/anthesisd.toml")), shown(&text("deploy/HANDBOOK.md"))].concat();
    assert!(
        sections.iter().filter(|section| section.starts_with("[readings_to]")).count() >= 2,
        "{sections:?}"
    );
    let folder = tempfile::tempdir().unwrap();
    let site = "[site]\nname = \"saltmarsh\"\ntimezone = \"America/Halifax\"\n";
    let bench = "[[bench]]\nid = \"north-1\"\nprofile = \"titan-arum\"\n";
    for section in sections {
        let whole = match section.as_str() {
            own if own.starts_with("[site]") => format!("{section}{bench}"),
            _ => format!("{site}{bench}{section}"),
        };
        let parsed = config::parse(&whole, &folder.path().join("anthesisd.toml"));
        assert!(parsed.is_ok(), "{section}\n{}", parsed.unwrap_err());
    }
}

#[test]
fn a_secret_that_others_may_read_is_refused_with_the_remedy() {
    let folder = tempfile::tempdir().unwrap();
    let token = folder.path().join("token");
    fs::write(&token, "zostera-marina\n").unwrap();
    let path = folder.path().join("anthesisd.toml");
    let text = format!(
        "[site]\nname = \"saltmarsh\"\ntimezone = \"America/Halifax\"\n[[bench]]\nid = \"east-3\"\n\
         profile = \"titan-arum\"\n[readings_to]\ndatabase = \"http://127.0.0.1:8086\"\norganization = \"glasshouse\"\n\
         bucket = \"benches\"\ntoken_file = \"{}\"\n",
        token.display()
    );
    fs::write(&path, text).unwrap();
    for (mode, refused) in [(0o644, true), (0o640, true), (0o602, true), (0o600, false), (0o400, false)] {
        fs::set_permissions(&token, fs::Permissions::from_mode(mode)).unwrap();
        let output = anthesisd().arg("--config").arg(&path).arg("check").output().unwrap();
        let told = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code() == Some(78), refused, "{mode:o}: {}", said(&output));
        assert_eq!(told.contains(&format!("run: chmod 600 {}", token.display())), refused, "{told}");
        assert!(!told.contains("zostera"), "{told}");
    }
}
