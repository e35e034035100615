//! The files beside the configuration: profiles, secrets, programs, devices.

use std::fs;
use std::os::unix::fs::PermissionsExt;
use std::path::Path;

use bloom_model::profile::Profile;

use super::{BENCH, SITE};
use crate::config::{husbandries, load, parse, profile, read};

#[test]
fn the_built_in_profile_has_a_source_for_every_number() {
    let text = include_str!("../../../../../config/profiles/titan-arum.toml");
    let file: toml::Table = text.parse().unwrap();
    for key in Profile::KEYS {
        assert!(file[*key]["source"].as_str().is_some_and(|source| source.len() > 10), "{key}");
    }
    let lists = ["pollen_storage", "fruit_ripening", "fruit_colour"];
    assert_eq!(
        file.len(),
        Profile::KEYS.len() + 2 + lists.len(),
        "numbers, lists, name and taxon, nothing else"
    );
    for list in lists {
        let figures = file[list].as_array().unwrap();
        assert!(
            figures.iter().all(|figure| figure["source"].as_str().is_some_and(|source| source.len() > 10)),
            "{list}"
        );
    }
    let husbandries = husbandries(Path::new("/nowhere")).unwrap();
    let husbandry = husbandries.iter().find(|known| known.taxon == "Amorphophallus titanum").unwrap();
    // Dunedin 2018 to 2021: -80 °C for three years; Wisconsin 2001: 281 days from pollination to ripe fruit
    assert!(
        husbandry
            .storage
            .iter()
            .any(|figure| figure.kept_c.0 <= -80.0 && (1090.0..1100.0).contains(&figure.good_d))
    );
    assert!(
        husbandry
            .ripening
            .iter()
            .any(|figure| (280.5..281.5).contains(&figure.days) && !figure.common_practice)
    );
    let profile = profile("titan-arum", Path::new("/nowhere")).unwrap();
    assert_eq!(profile.taxon, "Amorphophallus titanum");
    // Bonn 1996: 29 h from crack to pollen, 47 days from emergence; Lu et al. 2001: 17 °C
    assert!((profile.pollen_likely_h - 29.0).abs() < 1e-12);
    assert!((profile.emergence_to_opening_likely_d - 47.0).abs() < 1e-12);
    assert!((profile.base_temperature_c - 17.0).abs() < 1e-12);
    for ascending in [
        [profile.crack_to_full_earliest_h, profile.crack_to_full_likely_h, profile.crack_to_full_latest_h],
        [profile.pollen_from_h, profile.pollen_likely_h, profile.pollen_until_h],
        [
            profile.emergence_to_opening_earliest_d,
            profile.emergence_to_opening_likely_d,
            profile.emergence_to_opening_latest_d,
        ],
        [
            profile.spadix_to_opening_earliest_d,
            profile.spadix_to_opening_likely_d,
            profile.spadix_to_opening_latest_d,
        ],
        [
            profile.slowing_to_opening_earliest_d,
            profile.slowing_to_opening_likely_d,
            profile.slowing_to_opening_latest_d,
        ],
    ] {
        assert!(ascending.is_sorted(), "{ascending:?}");
    }
}

#[test]
fn every_kind_of_plant_that_comes_along_is_complete_and_in_order() {
    for (name, taxon) in [
        ("titan-arum", "Amorphophallus titanum"),
        ("amorphophallus-paeoniifolius", "Amorphophallus paeoniifolius"),
        ("pitaya", "Selenicereus undatus"),
    ] {
        let profile = profile(name, Path::new("/nowhere")).unwrap();
        assert_eq!(profile.taxon, taxon);
        assert!(profile.pollen_from_h <= profile.pollen_likely_h, "{name}");
        assert!(profile.gap_that_closes_cm < profile.sure_open_advance_cm, "{name}");
        assert!(profile.peak_growth_high_cm_day <= profile.bud_growth_max_cm_day, "{name}");
    }
    // Weiss, Nerd & Mizrahi 1994: open before sunset, closed 6 h after sunrise; pollen and stigma together, unlike an aroid
    let pitaya = profile("pitaya", Path::new("/nowhere")).unwrap();
    assert!(pitaya.pollen_from_h < pitaya.receptive_until_h);
    // a grower's report of 2007: female at dusk, male 24 h later
    let yam = profile("amorphophallus-paeoniifolius", Path::new("/nowhere")).unwrap();
    assert!((yam.pollen_likely_h - 24.0).abs() < 1e-12 && yam.receptive_until_h < yam.pollen_from_h);
}

#[test]
fn a_profile_beside_the_configuration_goes_first_and_is_checked() {
    let folder = tempfile::tempdir().unwrap();
    let origin = folder.path().join("anthesisd.toml");
    let file = folder.path().join("profiles/titan-arum.toml");
    fs::create_dir(folder.path().join("profiles")).unwrap();
    let built_in = include_str!("../../../../../config/profiles/titan-arum.toml");
    let config = format!("{SITE}{BENCH}[[bench]]\nid = \"east-4\"\nprofile = \"titan-arum\"\n");

    fs::write(&file, built_in.replace("value = 17.0", "value = 15.5")).unwrap();
    let warm = parse(&config, &origin).unwrap();
    assert!((warm.benches[1].spec.profile.base_temperature_c - 15.5).abs() < 1e-12);

    // one mistake each in three numbers; both benches use the profile, and each mistake is told once
    let wrong = built_in
        .replace("value = 17.0", "value = 170.0")
        .replacen("source = \"Common practice", "sauce = \"Common practice", 1)
        .replace("[gap_that_closes_cm]", "[gap_that_close_cm]");
    fs::write(&file, wrong).unwrap();
    let said = parse(&config, &origin).unwrap_err().to_string();
    let place = file.display();
    for expected in [
        "[base_temperature_c]: value = 170 lies outside -5 to 30",
        "[open_for_h], source: is missing",
        "[open_for_h], sauce: unknown key; did you mean source?",
        "gap_that_closes_cm: is missing",
        "[gap_that_close_cm]: unknown section; did you mean gap_that_closes_cm?",
    ] {
        assert_eq!(said.matches(expected).count(), 1, "{expected}\n{said}");
    }
    assert!(said.lines().all(|line| line.starts_with(&format!("{place}:"))), "{said}");

    let said = parse(&config.replace("titan-arum", "titan-arom"), &origin).unwrap_err().to_string();
    assert!(
        said.contains("profile = \"titan-arom\": there is no such profile; did you mean titan-arum?"),
        "{said}"
    );
    let said = parse(&config.replace("titan-arum", "../titan-arum"), &origin).unwrap_err().to_string();
    assert!(said.contains("there is no such profile"), "{said}");
}

#[test]
fn named_files_are_there_and_fit_for_their_use() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name);
    let put = |name: &str, text: &str, mode: u32| {
        fs::write(path(name), text).unwrap();
        fs::set_permissions(path(name), fs::Permissions::from_mode(mode)).unwrap();
    };
    let origin = path("anthesisd.toml");
    let text = format!(
        "{SITE}[mqtt]\nbroker = \"mqtts://h\"\nusername = \"saltmarsh\"\npassword_file = \"password\"\n\
         ca_file = \"ca.pem\"\n\
         [alarm]\ncommand = [\"{}\"]\n{BENCH}",
        path("siren").display()
    );
    put("anthesisd.toml", &text, 0o644);
    let said = load(&origin).unwrap_err().to_string();
    assert_eq!(said.matches("there is no such").count(), 3, "{said}");
    assert!(said.contains("anthesisd.toml:7: [mqtt], password_file: "), "{said}");
    assert!(read(&origin).is_ok(), "the file alone is right");

    put("password", "zostera\n", 0o640);
    put("ca.pem", "no certificate\n", 0o644);
    put("siren", "#!/bin/sh\n", 0o644);
    let said = load(&origin).unwrap_err().to_string();
    assert!(said.contains("(mode 0640); run: chmod 600 "), "{said}");
    assert!(said.contains("holds no certificate in PEM") && said.contains("run: chmod +x "), "{said}");
    assert!(!said.contains("zostera"), "{said}");

    put("password", "", 0o600);
    put("ca.pem", "-----BEGIN CERTIFICATE-----\n", 0o644);
    put("siren", "#!/bin/sh\n", 0o755);
    let said = load(&origin).unwrap_err().to_string();
    assert!(said.lines().count() == 1 && said.contains("is empty; write the secret"), "{said}");

    put("password", "zostera\n", 0o600);
    assert!(load(&origin).is_ok());
    // a bare name is looked for where the system looks for programs
    put("anthesisd.toml", &text.replace(&path("siren").display().to_string(), "sh"), 0o644);
    assert!(load(&origin).is_ok());
}

#[test]
fn two_names_of_one_device_are_found_out() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("ttyUSB0"), "").unwrap();
    std::os::unix::fs::symlink("ttyUSB0", folder.path().join("by-id")).unwrap();
    let origin = folder.path().join("anthesisd.toml");
    let intake = |port: &str| format!("[[intake]]\nkind = \"serial\"\nport = \"{port}\"\n");
    fs::write(&origin, format!("{SITE}{BENCH}{}{}", intake("ttyUSB0"), intake("by-id"))).unwrap();
    let said = load(&origin).unwrap_err().to_string();
    assert!(said.contains(":12: [[intake]] by-id, port: ") && said.contains("as does line 9"), "{said}");
}
