//! A wrong configuration is refused before anything starts, with file, line, key, what is wrong and what would be right.

use std::fs;

use anthesisd::config;

const RIGHT: &str = r#"[site]
name = "saltmarsh"
timezone = "America/Halifax"

[[intake]]
kind = "serial"
port = "/dev/serial/by-id/usb-example"

[[bench]]
id = "east-3"
plant = "AT-0412"
profile = "titan-arum"
tip = { mount_height_m = 3.100 }
"#;

/// What a configuration is refused with, a message a line, each without the folder of the file.
#[expect(clippy::unwrap_used, reason = "a helper of tests, where a folder that cannot be made is a failure")]
fn refusals(text: &str) -> Vec<String> {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("anthesisd.toml");
    fs::write(&path, text).unwrap();
    let said = config::load(&path).map_or_else(|faults| faults.to_string(), |_| String::new());
    said.lines().map(|line| line.replace(&format!("{}/", folder.path().display()), "")).collect()
}

#[test]
fn a_right_file_is_taken() {
    assert_eq!(refusals(RIGHT), Vec::<String>::new());
}

#[test]
fn an_unknown_key_is_named_with_its_nearest() {
    assert_eq!(
        refusals(&RIGHT.replace("plant =", "plnat =")),
        ["anthesisd.toml:11: [[bench]] east-3, plnat: unknown key; did you mean plant?"]
    );
    assert_eq!(
        refusals(&format!("{RIGHT}\n[stroe]\npath = \"/srv/a.db\"\n")),
        ["anthesisd.toml:15: [stroe]: unknown section; did you mean store?"]
    );
    assert_eq!(
        refusals(&RIGHT.replace("timezone", "quorum = 3\ntimezone")),
        ["anthesisd.toml:3: [site], quorum: unknown key; known here: name, timezone, units or pressure_kpa"]
    );
}

#[test]
fn a_missing_file_is_named() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let path = folder.path().join("anthesisd.toml");
    let said = config::load(&path).expect_err("there is none").to_string();
    let file = path.display();
    assert_eq!(
        said,
        format!("{file}: there is no such file; create it, or correct the path; --config FILE names another")
    );
}

#[test]
fn a_wrong_time_zone_brings_the_nearest_names() {
    let said = refusals(&RIGHT.replace("America/Halifax", "America/Halifaks"));
    assert_eq!(said.len(), 1, "{said:?}");
    assert!(
        said[0]
            .starts_with("anthesisd.toml:3: [site], timezone = \"America/Halifaks\": is no IANA time zone;")
    );
    assert!(said[0].contains("the nearest names are America/Halifax, "), "{said:?}");
}

#[test]
fn a_bench_twice_and_a_port_twice_are_named_with_the_first() {
    assert_eq!(
        refusals(&format!("{RIGHT}\n[[bench]]\nid = \"east-3\"\nprofile = \"titan-arum\"\n")),
        [
            "anthesisd.toml:16: [[bench]] east-3, id = \"east-3\": stands on line 10 already; give every bench an id of its own"
        ]
    );
    let said = refusals(&format!(
        "{RIGHT}\n[[intake]]\nkind = \"serial\"\nport = \"/dev/serial/by-id/usb-example\"\n"
    ));
    assert_eq!(said.len(), 1, "{said:?}");
    assert!(
        said[0].starts_with("anthesisd.toml:17: [[intake]] /dev/serial/by-id/usb-example, port = "),
        "{said:?}"
    );
    assert!(said[0].contains("stands on line 7 already; two intakes cannot share it"), "{said:?}");
}

#[test]
fn a_ranger_at_no_height_is_refused() {
    assert_eq!(
        refusals(&RIGHT.replace("3.100", "0")),
        ["anthesisd.toml:13: [[bench]] east-3, tip.mount_height_m = 0: a ranger cannot hang at 0 m; \
          give the distance straight down to the lip of the pot in metres, such as 3.100"]
    );
}

#[test]
fn three_mistakes_give_three_messages_in_one_run() {
    let said = refusals(
        &RIGHT.replace("3.100", "0").replace("America/Halifax", "Halifax").replace("port =", "prot ="),
    );
    let places: Vec<&str> = said.iter().map(|line| line.split(' ').next().unwrap_or_default()).collect();
    // the misspelt key is told once as unknown and once as missing
    assert_eq!(
        places,
        ["anthesisd.toml:3:", "anthesisd.toml:5:", "anthesisd.toml:7:", "anthesisd.toml:13:"],
        "{said:?}"
    );
}
