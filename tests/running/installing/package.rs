//! What goes into the package: every file that it names is there, and every generated file is in it.

use std::fs;

use super::{file, text};

/// Source and destination of each file of the package.
fn assets() -> Vec<(String, String)> {
    let manifest: toml::Table = text("daemon/service/Cargo.toml").parse().unwrap();
    let assets = manifest["package"]["metadata"]["deb"]["assets"].as_array().unwrap().clone();
    let word = |asset: &toml::Value, place: usize| asset[place].as_str().unwrap().to_owned();
    assets.iter().map(|asset| (word(asset, 0), word(asset, 1))).collect()
}

#[test]
fn every_file_of_the_package_is_there() {
    for (source, _) in assets().iter().filter(|(source, _)| !source.starts_with("target/release/")) {
        let path = file("daemon/service").join(source);
        match source.contains('*') {
            true => assert!(path.parent().unwrap().is_dir(), "{source}"),
            false => assert!(path.is_file(), "{source}"),
        }
    }
}

#[test]
fn both_binaries_and_all_that_explains_them_are_in_it() {
    let assets = assets();
    let goes = |destination: &str| assets.iter().any(|(_, to)| to == destination);
    for destination in [
        "usr/bin/anthesisd",
        "usr/bin/anthesisd-rehearse",
        "etc/anthesisd/anthesisd.toml",
        "usr/lib/sysusers.d/anthesisd.conf",
        "usr/lib/udev/rules.d/61-anthesisd.rules",
        "usr/share/bash-completion/completions/anthesisd",
        "usr/share/zsh/vendor-completions/_anthesisd",
        "usr/share/fish/vendor_completions.d/anthesisd.fish",
        "usr/share/doc/anthesisd/examples/",
        "usr/share/man/man5/",
        "usr/share/man/man8/",
    ] {
        assert!(goes(destination), "{destination}");
    }
    let manuals = fs::read_dir(file("deploy/manual")).unwrap();
    for name in manuals.map(|entry| entry.unwrap().file_name().into_string().unwrap()) {
        let section = &name[name.len() - 1..];
        let to = format!("usr/share/man/man{section}/");
        let taken = assets.iter().any(|(source, destination)| {
            destination == &to
                && source.starts_with("../../deploy/manual/")
                && source.ends_with(&format!("*.{section}"))
        });
        assert!(taken, "{name}");
    }
}

#[test]
fn the_udev_rule_names_ports_and_touches_nothing_else() {
    let rule = text("deploy/anthesisd.rules");
    let lines: Vec<&str> = rule.lines().filter(|line| !line.is_empty() && !line.starts_with('#')).collect();
    assert_eq!(lines.len(), 2, "{lines:?}");
    for line in lines {
        assert!(line.contains("SUBSYSTEM==\"tty\"") && line.contains("SYMLINK+=\"anthesisd/"), "{line}");
        assert!(!line.contains("RUN") && !line.contains("MODE"), "{line}");
    }
}
