//! The walk through the bloom book that the handbook describes, line by line: from first bud to sown seed.
#![expect(clippy::expect_used, reason = "what the helpers of a check cannot do fails the check")]

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use calcard::icalendar::{ICalendar, ICalendarComponentType, ICalendarProperty};
use calcard::{Entry, Parser};
use end_to_end::house::{built, said};
use end_to_end::service::eventually;
use serde_json::Value;
use tempfile::TempDir;

/// The house of the walk in a folder of its own.
struct Walk {
    folder: TempDir,
    lines: Vec<String>,
}

impl Walk {
    /// Reads the lines that the handbook tells, and plays the season.
    fn begin() -> Self {
        let root = Path::new(env!("CARGO_MANIFEST_DIR")).parent().expect("the tests lie in the workspace");
        let handbook = fs::read_to_string(root.join("deploy/HANDBOOK.md")).expect("the handbook");
        let (_, walk) = handbook.split_once("### A walk: from first bud to sown seed").expect("the walk");
        let walk = walk.split("\n## ").next().expect("its section");
        let lines: Vec<String> =
            walk.lines().filter_map(|line| line.strip_prefix("    ")).map(str::to_owned).collect();
        let folder = tempfile::tempdir().expect("a folder");
        fs::create_dir(folder.path().join("config")).expect("a folder");
        fs::copy(root.join("config/walk.toml"), folder.path().join("config/walk.toml")).expect("a copy");
        let walk = Self { folder, lines };
        let season =
            walk.line("target/release/benches ").strip_prefix("target/release/benches ").expect("it");
        let output = Command::new(built("benches"))
            .args(season.split_whitespace())
            .current_dir(walk.folder.path())
            .output()
            .expect("it starts");
        assert!(output.status.success(), "{}", said(&output));
        walk.run_the_service();
        walk
    }

    fn config(&self) -> PathBuf {
        self.folder.path().join("config/walk.toml")
    }

    fn run_the_service(&self) {
        let log = self.folder.path().join("log");
        let mut process = Command::new(built("anthesisd"))
            .arg("--config")
            .arg(self.config())
            .arg("run")
            .stderr(fs::File::create(&log).expect("a file"))
            .spawn()
            .expect("it starts");
        eventually("the recording is read to its end", || {
            fs::read_to_string(&log).expect("a log").contains("read to its end")
        });
        rustix::process::kill_process(
            rustix::process::Pid::from_child(&process),
            rustix::process::Signal::TERM,
        )
        .expect("it runs");
        assert!(process.wait().expect("it ends").success());
    }

    /// The line that begins so.
    fn line(&self, beginning: &str) -> &str {
        self.lines.iter().find(|line| line.starts_with(beginning)).expect("the handbook has such a line")
    }

    /// Types a line as the README has it, with more words after it.
    fn type_in(&self, line: &str, more: &str) -> Output {
        let script = format!(
            "anthesisd() {{ '{}' --config '{}' \"$@\"; }}\n{line} {more}",
            built("anthesisd").display(),
            self.config().display()
        );
        Command::new("sh").arg("-c").arg(script).output().expect("a shell")
    }

    fn done(&self, line: &str) -> String {
        let output = self.type_in(line, "");
        assert!(output.status.success(), "{line}: {}", said(&output));
        String::from_utf8(output.stdout).expect("text")
    }

    fn json(&self, line: &str) -> Value {
        let output = self.type_in(line, "--json");
        assert!(output.status.success(), "{line}: {}", said(&output));
        serde_json::from_slice(&output.stdout).expect("JSON")
    }
}

fn names<'a>(list: &'a Value, key: &str) -> Vec<&'a str> {
    list.as_array().expect("a list").iter().map(|item| item[key].as_str().expect("a name")).collect()
}

#[test]
fn the_walk_of_the_readme_goes_from_first_bud_to_sown_seed() {
    let walk = Walk::begin();
    let mut refusals = 0;
    let typed: Vec<String> = walk
        .lines
        .iter()
        .filter(|line| line.starts_with("anthesisd ") && !line.starts_with("anthesisd run"))
        .cloned()
        .collect();
    assert!(typed.len() >= 35, "{} lines", typed.len());
    for line in &typed {
        let output = walk.type_in(line, "");
        // the one thing that the book warns of
        if line.contains("cross east-3 AT-0412-2023a") {
            assert_eq!(output.status.code(), Some(1), "{}", said(&output));
            assert!(said(&output).contains("selfing, kinship 0.5"), "{}", said(&output));
            refusals += 1;
            continue;
        }
        assert!(output.status.success(), "{line}: {}", said(&output));
    }
    assert_eq!(refusals, 1);
    what_the_sheets_say(&walk);
    what_the_overlap_says(&walk);
    what_came_of_it(&walk);
    what_the_calendar_holds(&walk);
    what_goes_out_comes_in_again(&walk);
}

fn what_the_sheets_say(walk: &Walk) {
    let titan = walk.json(walk.line("anthesisd tonight east-3"));
    let sheet = &titan[0];
    assert_eq!(names(&titan, "bench"), ["east-3"]);
    assert!(sheet["opened"].as_str().expect("open").starts_with("2025-05-22"), "{sheet}");
    // 3 to 18 hours from the crack (the profile's judgement between Bonn 2021 and Selby 1999)
    let time = |value: &Value| {
        chrono::DateTime::parse_from_rfc3339(value.as_str().expect("an instant")).expect("RFC 3339")
    };
    let hours = |from: &Value, until: &Value| (time(until) - time(from)).num_minutes() as f64 / 60.0;
    let opened = &sheet["opened"];
    let near = |one: f64, other: f64| (one - other).abs() < 0.02;
    assert!(near(hours(opened, &sheet["receptive"]["from"]), 3.0), "{sheet}");
    assert!(near(hours(opened, &sheet["receptive"]["until"]), 18.0), "{sheet}");
    // 29 h from crack to pollen (Bonn 1996)
    assert!(near(hours(opened, &sheet["collect_likely"]), 29.0), "{sheet}");
    assert_eq!(names(&sheet["pollen"], "name")[0], "AT-0398-2024a");
    let of = |lot: &str| {
        let pollen = sheet["pollen"].as_array().expect("lots");
        pollen.iter().find(|candidate| candidate["name"] == lot).expect("the lot").clone()
    };
    assert_eq!(of("AT-0398-2024a")["recommended"], true);
    assert_eq!(of("AT-0398-2024a")["keeps"]["standing"], "within");
    assert_eq!(of("AT-0412-2023a")["recommended"], false);
    assert_eq!(of("AT-0412-2023a")["relation"]["degree"], "selfing");
    assert_eq!(sheet["thaw"]["lot"], "AT-0398-2024a");
    let text = walk.done(walk.line("anthesisd tonight east-3"));
    for word in ["Thaw one portion of AT-0398-2024a", "gloves", "adder", "residual-current", "Local codes"] {
        assert!(text.contains(word), "{word}: {text}");
    }

    let yam = walk.json(walk.line("anthesisd tonight west-1"));
    let best = &yam[0]["pollen"][0];
    assert_eq!((&best["hybrid"], &best["recommended"]), (&Value::from(true), &Value::from(true)), "{yam}");
    assert!(yam[0]["opened"].as_str().expect("open").starts_with("2025-06-0"), "{yam}");
}

/// Pollen of the plant that opens first is kept for the other; the other way round it comes too late.
fn what_the_overlap_says(walk: &Walk) {
    let line = "anthesisd book overlap --at \"2025-05-24 08:00\"";
    let pairings = walk.json(walk.line(line));
    let pairings = pairings.as_array().expect("pairs");
    let of = |donor: &str| {
        pairings.iter().find(|pairing| pairing["donor"] == donor).expect("both ways are weighed").clone()
    };
    let kept = of("east-3");
    assert_eq!(kept["fit"], "keep", "{kept}");
    let days = kept["keep_d"][1].as_f64().expect("days");
    assert!((5.0..15.0).contains(&days), "{days}");
    // three weeks in the refrigerator set seed (Bonn 1996)
    let ways = kept["ways"].as_array().expect("ways");
    assert!(
        ways.iter().any(|way| way["source"].as_str().expect("a source").contains("refrigerated")),
        "{kept}"
    );
    assert_eq!(of("west-1")["fit"], "too-late");
    let text = walk.done(walk.line(line));
    assert!(text.contains("nothing fits") && text.contains("a hybrid"), "{text}");
}

fn what_came_of_it(walk: &Walk) {
    let crosses = walk.json("anthesisd cross");
    assert_eq!(names(&crosses, "name"), ["X-2025-1", "X-2025-2"]);
    assert_eq!((&crosses[0]["hybrid"], &crosses[1]["hybrid"]), (&Value::from(false), &Value::from(true)));
    assert_eq!(crosses[0]["bloom"], "east-3-2025a");
    // a portion was thawed for the pollination that used it: one is gone, not two
    assert_eq!(walk.json("anthesisd pollen AT-0398-2024a")["left"], 2);
    let fruit = walk.json("anthesisd fruit");
    let of = |name: &str| {
        fruit.as_array().expect("a list").iter().find(|cross| cross["name"] == name).expect("it").clone()
    };
    assert_eq!(of("X-2025-1")["fruit"]["sowings"][0]["count"], 640);
    assert_eq!(of("X-2025-1")["berries"], 408);
    assert_eq!(of("X-2025-1")["fruit"]["seedlings"][0]["albino"], 2);
    // while it grew it was forecast with the published 5 to 9 months (150 to 281 days)
    let growing = walk.json("anthesisd fruit X-2025-1 --at \"2025-09-01 09:00\"");
    let ripening = &growing[0]["ripening"];
    assert_eq!(ripening["spread_d"], serde_json::json!([150.0, 281.0]), "{growing}");
    assert!(ripening["ripe"]["likely"].as_str().expect("a time").starts_with("2026-01"), "{growing}");
    assert!(ripening["degree_days"]["likely"].as_f64().expect("degree-days") > 500.0, "{growing}");
    let practice =
        ripening["published"].as_array().expect("figures").iter().find(|f| f["common_practice"] == true);
    assert!(practice.is_some_and(|figure| figure["days"] == 365.0), "{growing}");
    let seedling = walk.json("anthesisd plant AX-0601");
    assert_eq!(seedling["taxon"], "Amorphophallus paeoniifolius × Amorphophallus titanum");
    let blooms = walk.json("anthesisd book blooms");
    assert_eq!(names(&blooms, "id"), ["east-3-2025a", "west-1-2025a"]);
    let spans = blooms[0]["compared"].as_array().expect("spans");
    let emergence = spans.iter().find(|span| span["span"] == "emergence to opening").expect("the span");
    assert!((46.0..49.0).contains(&emergence["here"].as_f64().expect("days")), "{emergence}");
    assert!(blooms[0]["missed"].to_string().contains("nobody recorded the first crack"), "{}", blooms[0]);
    assert!(!blooms[0]["missed"].to_string().contains("no pollination"), "{}", blooms[0]);
}

/// calcard reads what the icalendar crate wrote: two parsers of RFC 5545 that share no code.
fn what_the_calendar_holds(walk: &Walk) {
    let text = walk.done(walk.line("anthesisd book calendar"));
    // its strict mode takes no component within another (calcard 0.3.14)
    let entry = Parser::new(&text).entry();
    let calendar = match &entry {
        Entry::ICalendar(calendar) => Some(calendar),
        _ => None,
    };
    assert!(calendar.is_some(), "{entry:?}");
    let events = calendar.map(events).unwrap_or_default();
    let summary = |uid: &str| {
        events.iter().find(|event| event.uid.starts_with(uid)).map(|event| event.summary.as_str())
    };
    assert!(summary("ripe-X-2025-1@").expect("the fruit").contains("likely ripe"), "{text}");
    assert!(summary("pollen-AT-0398-2024a@").is_some(), "{text}");
    for event in &events {
        assert!(event.stamped && event.starts, "{text}");
    }
    // lines of no more than 75 octets, ended by CR LF (RFC 5545, section 3.1)
    assert!(text.split("\r\n").all(|line| line.len() <= 75 && !line.contains('\n')), "{text}");
}

struct Event {
    uid: String,
    summary: String,
    stamped: bool,
    starts: bool,
}

fn events(calendar: &ICalendar) -> Vec<Event> {
    let text = |component: &calcard::icalendar::ICalendarComponent, property: &ICalendarProperty| {
        let value = component.property(property).and_then(|entry| entry.values.first());
        value.and_then(|value| value.as_text()).unwrap_or_default().to_owned()
    };
    calendar
        .components
        .iter()
        .filter(|component| component.component_type == ICalendarComponentType::VEvent)
        .map(|component| Event {
            uid: text(component, &ICalendarProperty::Uid),
            summary: text(component, &ICalendarProperty::Summary),
            stamped: component.property(&ICalendarProperty::Dtstamp).is_some(),
            starts: component.property(&ICalendarProperty::Dtstart).is_some(),
        })
        .collect()
}

fn what_goes_out_comes_in_again(walk: &Walk) {
    let out = walk.done("anthesisd book export");
    let other = Walk { folder: tempfile::tempdir().expect("a folder"), lines: Vec::new() };
    fs::create_dir(other.folder.path().join("config")).expect("a folder");
    fs::copy(walk.config(), other.config()).expect("a copy");
    let file = other.folder.path().join("book.jsonl");
    fs::write(&file, &out).expect("a file");
    let import = format!("anthesisd book import '{}'", file.display());
    let lines = out.lines().count() - 1;
    assert_eq!(other.done(&import), format!("{lines} lines new, 0 known before\n"));
    assert_eq!(other.done(&import), format!("0 lines new, {lines} known before\n"));
    assert_eq!(other.done("anthesisd book export"), out, "byte for byte");
    for line in ["anthesisd plant", "anthesisd cross", "anthesisd pollen", "anthesisd book blooms"] {
        let then = format!("{line} --at '2026-05-01 09:00'");
        assert_eq!(other.json(&then), walk.json(&then), "{line}");
    }
}
