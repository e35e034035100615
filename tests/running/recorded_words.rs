//! What people type, on its way in and out: files that are none of ours, formulas, control characters, slips of the tape.
#![expect(clippy::expect_used, reason = "what the helpers of a check cannot do fails the check")]

use std::fs;
use std::process::Output;

use end_to_end::house::{House, of_kind, said};

fn file(house: &House, name: &str, content: &[u8]) -> String {
    let path = house.path(name);
    fs::write(&path, content).expect("a file can be written");
    path.display().to_string()
}

fn out(house: &House, arguments: &[&str]) -> String {
    let output = house.run(arguments);
    assert!(output.status.success(), "{arguments:?}: {}", said(&output));
    String::from_utf8(output.stdout).expect("results are text")
}

fn refused(output: &Output, status: i32, words: &[&str]) {
    let told = said(output);
    assert_eq!(output.status.code(), Some(status), "{told}");
    for words in words {
        assert!(told.contains(words), "{words}: {told}");
    }
}

#[test]
fn what_is_no_recording_and_no_table_is_refused_in_one_message() {
    let house = House::new().with_bench("east-3");
    let zip =
        [&b"PK\x03\x04\x14\x00\x06\x00\x08\x00"[..], &[0x9c; 5000], b"\n\n\n[\n".repeat(500).as_slice()]
            .concat();
    let configuration = fs::read("../config/anthesisd.toml").or_else(|_| fs::read("config/anthesisd.toml"));
    for (name, content, looks_like) in [
        ("heights.xlsx", zip, "save the sheet as CSV"),
        ("house.toml", configuration.expect("the sample"), "a configuration file"),
        ("list.txt", b"bench,height\neast-3,1.32\n".to_vec(), "without a column `time`"),
        ("empty.csv", Vec::new(), "an empty file"),
    ] {
        let path = file(&house, name, &content);
        let output = house.run(&["import", &path]);
        refused(&output, 1, &[name, looks_like, "0 readings new"]);
        let lines = String::from_utf8_lossy(&output.stderr).lines().count();
        assert_eq!(lines, 1, "{name}: one message, not {}", said(&output));
    }
}

#[test]
fn an_import_that_took_nothing_has_failed_and_names_a_few() {
    let house = House::new().with_bench("east-3");
    let wrong = "time,bench,height (m)\n".to_owned() + &"2027-05-30 08:10,east-9,1.32\n".repeat(300);
    let wrong = file(&house, "wrong.csv", wrong.as_bytes());
    let output = house.run(&["import", &wrong]);
    refused(&output, 1, &["300 refused", "all 300 records were refused", "line 2, bench"]);
    let lines = String::from_utf8_lossy(&output.stderr).lines().count();
    assert!((3..=15).contains(&lines), "{lines} lines: {}", said(&output));
    // some refused and the rest done is done; the same once more is done, too
    let mixed = file(
        &house,
        "mixed.csv",
        b"time,bench,height (m)\n2027-05-30 08:10,east-3,1.32\nyesterday,east-3,1.4\n",
    );
    for new in ["1 readings new", "0 readings new"] {
        let told = out(&house, &["import", &mixed]);
        assert!(told.contains(new) && told.contains("1 refused"), "{told}");
    }
    // a file that is refused keeps no other out
    let other = file(&house, "other.csv", b"time,bench,height (m)\n2027-05-31 08:10,east-3,1.4\n");
    let output = house.run(&["import", &wrong, &other]);
    refused(&output, 1, &["1 readings new", "wrong.csv: nothing was taken"]);
}

#[test]
fn a_sheet_with_semicolons_is_read_with_its_commas() {
    let house = House::new().with_bench("east-3");
    let sheet = "time;bench;height (cm);note\r\n2027-05-30 08:10;east-3;132,5;a, b\r\n2027-05-31 08:10;east-3;1,325;\r\n\
                 2027-06-01 08:10;east-3;140.5;\r\n";
    let path = file(&house, "heights.csv", sheet.as_bytes());
    let output = house.run(&["import", &path]);
    assert!(output.status.success(), "{}", said(&output));
    let told = said(&output);
    assert!(told.contains("2 readings new") && told.contains("may be a decimal or a thousand"), "{told}");
    let table = out(&house, &["export", "east-3", "--csv", "--quantity", "height"]);
    assert!(table.contains(",1.325,") && table.contains("\"a, b\"") && table.contains(",1.405,"), "{table}");
}

/// OWASP, "CSV Injection" (from memory): a cell that begins with `=`, `+`, `-`, `@`, a tab or a carriage return is run. RFC 4180:
/// cells with commas, quotes or line breaks stand in quotes, lines end in CR LF.
#[test]
fn no_formula_reaches_a_spreadsheet_and_all_comes_in_again() {
    let house = House::new().with_bench("east-3");
    let notes = [
        "=HYPERLINK(\"http://example.org\",\"x\")",
        "+1",
        "-5 °C outside",
        "@SUM(A1)",
        "'=1",
        "two\n=lines",
        "a;=1",
        "plain, 'fine'",
    ];
    let mut sheet = "time,bench,temperature (Cel),height (m),note\r\n".to_owned();
    for (hour, note) in notes.iter().enumerate() {
        let quoted = note.replace('"', "\"\"");
        // as another program would write it, unguarded; a leading apostrophe is restored on the way in
        let cell = if note.starts_with('\'') { format!("'{quoted}") } else { quoted };
        sheet.push_str(&format!("2027-05-30T{hour:02}:00:00Z,east-3,-1.5,1.{hour:02},\"{cell}\"\r\n"));
    }
    let path = file(&house, "notes.csv", sheet.as_bytes());
    out(&house, &["import", &path]);
    let table = out(&house, &["export", "east-3", "--csv"]);
    assert!(table.contains(",-1.5,"), "numbers stay numbers: {table}");
    let mut reader = csv::ReaderBuilder::new().from_reader(table.as_bytes());
    let mut seen = 0;
    for row in reader.records() {
        let row = row.expect("RFC 4180");
        for cell in &row {
            let number = cell.parse::<f64>().is_ok();
            let runs = |part: &str| part.trim_start().starts_with(['=', '+', '-', '@']);
            assert!(number || !cell.split([';', '\n', '\t', '\r']).any(runs), "{cell:?}");
        }
        seen += usize::from(!row[row.len() - 2].is_empty());
    }
    assert_eq!(seen, notes.len());

    let to = House::new().with_bench("east-3");
    let path = file(&to, "again.csv", table.as_bytes());
    out(&to, &["import", &path]);
    assert_eq!(out(&to, &["export", "east-3", "--csv"]), table);
    for note in notes {
        let kept = format!("SELECT count(*) FROM booked WHERE note = '{}'", note.replace('\'', "''"));
        assert_eq!((house.figure(&kept), to.figure(&kept)), (1, 1), "{note:?}");
    }
}

const NASTY: [&str; 6] = ["\u{1b}[2Jgone", "a\rb", "\u{9b}31m", "\u{202e}txt", "bell\u{7}", "\u{2066}x"];

#[test]
fn control_characters_are_refused_at_every_way_in() {
    let house = House::new().with_bench("east-3");
    out(
        &house,
        &["import", &file(&house, "a.csv", b"time,bench,height (m)\n2027-05-30 08:10,east-3,1.32\n")],
    );
    for nasty in NASTY {
        for arguments in [
            &["sign", "east-3", "scent", "--note", nasty][..],
            &["sign", "east-3", "scent", "--by", nasty],
            &["tape", "east-3", "1.33", "--anyway", "--note", nasty],
            &["plant", "AT-0412", "add", "--taxon", nasty],
            &["plant", "AT-0412", "add", "--note", nasty],
        ] {
            let output = house.run(arguments);
            assert_eq!(output.status.code(), Some(2), "{arguments:?}: {}", said(&output));
            let told = String::from_utf8_lossy(&output.stderr).into_owned();
            assert!(!NASTY.iter().any(|nasty| told.contains(nasty)), "{told:?}");
        }
        let sheet = format!("time,bench,height (m),note\n2027-05-31 08:10,east-3,1.4,\"{nasty}\"\n");
        let path = file(&house, "nasty.csv", sheet.as_bytes());
        refused(&house.run(&["import", &path]), 1, &["control characters"]);
    }
    assert_eq!(house.figure("SELECT count(*) FROM entry"), 0);
    assert_eq!(house.figure("SELECT count(*) FROM booked"), 1);
}

/// A record may be older than the rule: what is in it is spelt out.
#[test]
fn control_characters_of_the_record_reach_no_terminal() {
    let house = House::new().with_bench("east-3");
    out(
        &house,
        &["import", &file(&house, "a.csv", b"time,bench,height (m)\n2027-05-30 08:10,east-3,1.32\n")],
    );
    out(&house, &["plant", "AT-0412", "add", "--note", "MARK"]);
    let old = "DROP TRIGGER book_holds; UPDATE book SET note = char(27) || '[2J' || char(155) || 'x' || char(8238) || char(13)";
    rusqlite::Connection::open(house.path("anthesisd.db"))
        .and_then(|store| store.execute_batch(old))
        .expect("the store");
    let told = out(&house, &["plant", "AT-0412"]);
    assert!(told.contains("\\u001b[2J\\u009bx\\u202e"), "{told:?}");
    let json = out(&house, &["plant", "AT-0412", "--json"]);
    assert!(!json.contains(['\u{1b}', '\u{9b}', '\u{202e}']), "{json:?}");
}

/// Days of a bud that the overhead ranger follows, 8 cm a day from 1.2 m.
fn followed(days: i64) -> (String, i64) {
    let start = 1_748_833_200;
    let mut text = String::new();
    for step in 0..days * 144 {
        let (second, height) = (start + step * 600, 1.2 + 0.08 * step as f64 / 144.0);
        text.push_str(&format!(
            "[{{\"bn\":\"east-3/\",\"bt\":{second},\"n\":\"temperature\",\"u\":\"Cel\",\"v\":20.0}},{{\"n\":\"humidity\",\"u\":\"%RH\",\"v\":60}},\
             {{\"n\":\"tip-range\",\"u\":\"m\",\"v\":{:.4}}}]\n",
            (3.1 - height) * 343.2 / 344.112
        ));
    }
    (text, start + days * 86_400)
}

fn taped(second: i64, height: f64) -> String {
    format!("[{{\"n\":\"east-3/height\",\"t\":{second},\"u\":\"m\",\"v\":{height}}}]\n")
}

#[test]
fn a_table_can_be_looked_at_before_it_is_taken() {
    let house = House::new().with_bench("east-3");
    let sheet = "time;height (cm)\n2027-05-30 08:10;132,5\n2027-05-31 08:10;tall\n";
    let path = file(&house, "heights.csv", sheet.as_bytes());
    let told = out(&house, &["import", "--bench", "AT-0412", "--dry-run", &path]);
    assert!(told.contains("1 readings would be taken, 1 refused; nothing is recorded"), "{told}");
    assert!(!house.path("anthesisd.db").exists(), "not even a store is made");
    let told = out(&house, &["import", "--bench", "AT-0412", &path]);
    assert!(told.contains("1 readings new, 0 known before, 1 refused"), "{told}");
}

#[test]
fn a_tape_says_how_it_fits_and_asks_before_what_cannot_be() {
    let house = House::new().with_bench("east-3");
    let (recording, end) = followed(4);
    out(&house, &["import", &file(&house, "bud.jsonl", recording.as_bytes())]);
    let at = chrono::DateTime::from_timestamp(end - 1200, 0).expect("an instant").to_rfc3339();
    let told = out(&house, &["tape", "east-3", "1.53", "--at", &at]);
    assert!(told.starts_with("east-3: 1.53 m taped, ") && told.contains("; the ranger says 1.5"), "{told}");
    let slip = house.run(&["tape", "east-3", "4.9", "--at", &at]);
    refused(&slip, 1, &["4.90 m taped, ", "; the ranger says 1.5", "Nothing is recorded", "--anyway"]);
    assert_eq!(house.figure("SELECT count(*) FROM entry"), 1);
    out(&house, &["tape", "east-3", "4.9", "--at", &at, "--anyway"]);
    // without a ranger the last tape is what there is: days later nobody has grown by three metres
    let later = chrono::DateTime::from_timestamp(end + 2 * 86_400, 0).expect("an instant").to_rfc3339();
    let told = out(&house, &["tape", "east-3", "--withdraw"]);
    assert!(
        told.contains("4.90 m taped") && told.contains("taken back"),
        "the newest, not yet taken up: {told}"
    );
    refused(&house.run(&["tape", "east-3", "4.8", "--at", &later]), 1, &["1.53 m was taped", "no bud comes"]);
    let told = out(&house, &["tape", "east-3", "1.7", "--at", &later]);
    assert!(told.contains("no ranger reading then; 1.53 m was taped"), "{told}");
    refused(
        &house.run(&["tape", "east-3", "--withdraw", "--at", "2020-01-01 08:00"]),
        1,
        &["the newest are 1.70 m at"],
    );
    assert_eq!(house.run(&["tape", "east-3"]).status.code(), Some(2));
    assert_eq!(house.run(&["tape", "east-3", "1.3", "--withdraw"]).status.code(), Some(2));
}

/// What is told from then on is told as if the slip had not been, and a record that holds both goes out and in again.
#[test]
fn a_tape_that_was_taken_back_never_was() {
    let bench = || House::new().with_bench_of("east-3", "");
    let day = |number: i64| 1_811_905_200 + number * 86_400;
    let heights = |slip: bool, withdrawn: bool| {
        let mut text = String::new();
        for number in 0..12 {
            text.push_str(&taped(day(number), 1.0 + 0.07 * number as f64));
            if number == 6 && slip {
                // 12 cm too much: what a bud might do
                text.push_str(&taped(day(6) + 43_200, 1.0 + 0.07 * 6.5 + 0.12));
            }
            if number == 7 && withdrawn {
                text.push_str(&format!(
                    "[{{\"n\":\"east-3/sign\",\"t\":{},\"vs\":\"withdrawn height\"}}]\n",
                    day(6) + 43_200
                ));
            }
        }
        text.push_str(&format!(
            "[{{\"n\":\"east-3/temperature\",\"t\":{},\"u\":\"Cel\",\"v\":25}}]\n",
            day(12)
        ));
        text
    };
    let mornings = |events: &[serde_json::Value]| -> Vec<String> {
        let told = of_kind(events, "morning")
            .into_iter()
            .filter(|event| event["time"].as_str().is_some_and(|time| time > "2027-06-10"));
        told.map(ToString::to_string).collect()
    };
    let (without, with, taken_back) = (
        bench().replay(&heights(false, false)),
        bench().replay(&heights(true, false)),
        bench().replay(&heights(true, true)),
    );
    assert!(mornings(&without).len() >= 3, "{without:?}");
    assert_ne!(mornings(&with), mornings(&without), "the slip is one that the forecast hears");
    assert_eq!(mornings(&taken_back), mornings(&without));
    assert_eq!(of_kind(&taken_back, "slowing").len(), of_kind(&taken_back, "slowing-over").len());

    // out and in again, and out as a recording for `replay`: both hold the slip and that it was taken back
    let from = bench();
    out(&from, &["import", &file(&from, "bud.jsonl", heights(true, true).as_bytes())]);
    let recording = out(&from, &["export", "east-3"]);
    assert_eq!(recording.matches("withdrawn height").count(), 1);
    assert_eq!(mornings(&bench().replay(&recording)), mornings(&without));
    let table = out(&from, &["export", "east-3", "--csv"]);
    let to = bench();
    out(&to, &["import", &file(&to, "bud.csv", table.as_bytes())]);
    assert_eq!(out(&to, &["export", "east-3"]), recording);
}

/// 4.9 m where the ranger reads 1.85: no slowing, and the forecast is the same as without it.
#[test]
fn a_slip_far_from_the_ranger_makes_no_slowing_and_no_forecast() {
    let house = || House::new().with_bench("east-3");
    let (recording, end) = followed(9);
    let with = |slip: &str| {
        let (before, after) = recording.split_at(recording.len() / 2);
        let line = before.rfind('\n').map_or(0, |place| place + 1);
        let text = format!("{}{slip}{}{after}", &recording[..line], &before[line..]);
        house().replay(&text)
    };
    let (clean, slipped) = (with(""), with(&taped(end - 4 * 86_400 - 43_200, 4.9)));
    assert!(of_kind(&clean, "morning").len() >= 4, "{clean:?}");
    assert_eq!(of_kind(&slipped, "slowing"), Vec::<&serde_json::Value>::new());
    assert_eq!(slipped, clean);
}
