//! What the documents name is what a run emits, and the other way round: kinds of event, MQTT topics, figures at `/metrics`.
#![expect(clippy::expect_used, reason = "what the helpers of a check cannot do fails the check")]

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;
use std::fs;
use std::process::{Command, Stdio};
use std::thread;
use std::time::Duration;

use bloom_model::quantity::Quantity;
use bloom_text::capital;
use end_to_end::course::{Course, HOUR, together};
use end_to_end::house::{House, built, said};
use end_to_end::markdown::{code, entries, rows, section};
use end_to_end::mosquitto::{Listener, Mosquitto};
use end_to_end::service::{Service, eventually};
use end_to_end::web::{ask, page_of};
use end_to_end::wire::used_by;
use serde_json::Value;

use super::installing::{file, text};
use super::page::write_secret;

/// What takes a minute of waiting for a disk or a database, and is played by `tests/run --long` only.
const OF_THE_LONG_FORM: [&str; 4] =
    ["store-failing", "store-failing-over", "readings-behind", "readings-behind-over"];

fn is_long() -> bool {
    std::env::var_os("ANTHESISD_LONG").is_some()
}

/// Events by kind, with what they came as.
type Kinds = BTreeMap<String, BTreeSet<String>>;

/// A house in which a bench opens and bears fruit, one opens in vain, one takes every wrong turn, one is doubted, one stays a bud, and one is
/// too hot and falls silent.
fn eventful(house: &House) {
    let mut fruits = Course::opened("east-3");
    fruits.grow(0.0, 4.0, 0.4);
    fruits.book("fruit-set");
    fruits.grow(0.0, 1.0, 0.4);
    fruits.book("fruit-ripe");
    let mut in_vain = Course::opened("east-4");
    in_vain.grow(0.0, 12.0, 0.4);
    let mut wrong = Course::new("west-1");
    wrong.grow(9.0, 6.0, 0.0);
    wrong.grow(2.0, 3.0, 0.0);
    wrong.grow(9.0, 3.0, 0.0);
    let opened = wrong.book("opened");
    wrong.grow(9.0, 0.2, 0.0);
    wrong.book_for(opened, "withdrawn opened");
    wrong.grow(9.0, 0.2, 0.0);
    wrong.book("collapsed");
    wrong.grow(0.0, 0.5, 0.0);
    // an edge that goes out and is back at once: what stood before the ranger, or a limb that is heard no more
    let mut odd = Course::new("east-5");
    odd.grow(9.0, 6.0, 0.0);
    odd.grow(2.0, 3.0 + 14.0 / 24.0, 0.0);
    odd.open(0.2, 6.0);
    odd.grow(2.0, 0.3, 0.0);
    let mut bud = Course::new("west-2");
    bud.grow(9.0, 9.0, 0.0);
    // its side ranger is turned to a wall a metre behind, and back
    bud.grow(9.0, 0.3, -1.0);
    bud.grow(9.0, 0.3, 0.0);
    bud.second += HOUR;
    bud.grow(9.0, 14.0, 0.0);
    // 38 °C and 60 %: "extreme danger" by the published chart, which is an alarm and has an end
    let mut hot = String::new();
    // up to the last reading of all, so that the air for people is known at the end
    let last =
        [&fruits, &in_vain, &wrong, &bud].map(|course| course.second).into_iter().max().unwrap_or(bud.second);
    let early =
        (0..240).map(|minute| (bud.second - 12 * HOUR + 60 * minute, if minute < 120 { 38.0 } else { 26.0 }));
    let late = (0..20).map(|minute| (last - 60 * minute, 26.0));
    for (second, air_c) in early.chain(late) {
        let _ = writeln!(
            hot,
            r#"[{{"bn":"north-1/","bt":{second},"n":"temperature","u":"Cel","v":{air_c}}},{{"n":"humidity","u":"%RH","v":60}},{{"n":"co2","u":"ppm","v":420}},{{"n":"light","u":"umol/m2/s","v":150}},{{"n":"soil-temperature","u":"Cel","v":23.5}}]"#
        );
    }
    let benches = [&fruits, &in_vain, &wrong, &odd, &bud].map(|course| course.recorder.text.as_str());
    let all = together(&[&benches[..], &[&hot]].concat());
    fs::write(house.path("season.jsonl"), all).expect("a recording can be written");
}

fn house(broker: &Mosquitto) -> House {
    let rangers = "tip = { mount_height_m = 3.1 }\nrim = { mount_distance_m = 0.95 }\n";
    let limits = format!("{rangers}limits = {{ temperature_c = [18, 32], vpd_kpa = [0, 1.6] }}");
    // nobody listens on the port that is named for discarding (RFC 863)
    let readings_to = "[readings_to]\ndatabase = \"http://127.0.0.1:9\"\norganization = \"glasshouse\"\nbucket = \"benches\"\ntoken_file = \"token\"\n";
    let house = House::new()
        .with_bench("east-3")
        .with_bench("east-4")
        .with_bench("east-5")
        .with_bench("west-1")
        .with_bench_of("west-2", &limits)
        .with_bench_of("north-1", "limits = { temperature_c = [18, 32] }")
        .with_recording("season.jsonl")
        .with_broker(broker.port())
        .with("[page]\nlisten = \"127.0.0.1:0\"\n")
        .with(readings_to);
    write_secret(&house, "token", "secret", 0o600);
    eventful(&house);
    house
}

/// The events that a phone hears until that text comes, added to what is known.
fn hear(listener: &Listener, last: &str, kinds: &mut Kinds) {
    for heard in listener.until(|heard| heard.payload == last) {
        if heard.topic.ends_with("/event") {
            let event: Value = serde_json::from_str(&heard.payload).expect("an event");
            let word = |name: &str| event[name].as_str().expect("text").to_owned();
            keeps_the_rules(&event);
            kinds.entry(word("event")).or_default().insert(word("severity"));
        }
    }
}

/// An order, in the words of the alarms.
const ORDERS: [&str; 14] = [
    "look",
    "pollinate",
    "collect",
    "record",
    "acknowledge",
    "go,",
    "vents",
    "open vents",
    "mist",
    "stay out",
    "check",
    "draw shade",
    "bottom heat off",
    "trays in",
];

/// What every message keeps to: no word of the trade's inside, no figure that says nothing, and of an alarm, which a locked phone shows the
/// first 60 characters of, what to do and where.
pub(super) fn keeps_the_rules(event: &Value) {
    let message = event["message"].as_str().expect("a message");
    // a rehearsal says so before everything
    let message = message.strip_prefix("REHEARSAL: ").unwrap_or(message);
    for word in [" booked", " rim", "-0.0", " 0 %", "keeper", "daemon", "second way out"] {
        assert!(!message.contains(word), "{word:?} in {message:?}");
    }
    let first: String = message.chars().take(60).collect();
    // a unit such as µmol/m²/s is none
    let is_path = |word: &str| word.contains('/') && !word.starts_with("µmol/");
    assert!(!first.split_whitespace().any(is_path), "a path within the first 60 characters: {message:?}");
    if event["severity"] != "alarm" {
        return;
    }
    let small = first.to_lowercase();
    assert!(ORDERS.iter().any(|order| small.contains(order)), "no order in {first:?}");
    let place = event["bench"].as_str().unwrap_or("");
    // what befalls the house names the house, or the benches that it leaves alone
    let is_placed = if place.is_empty() {
        ["the house", "saltmarsh", "east-", "west-"].iter().any(|place| first.contains(place))
    } else {
        first.contains(place)
    };
    assert!(is_placed, "no place in {first:?}");
    // all but a test send somebody
    if event["event"] != "test" {
        assert!(message.to_lowercase().contains("not alone"), "{message:?}");
    }
}

/// A topic as the documents have it.
fn in_general(topic: &str) -> String {
    let levels: Vec<&str> = topic.split('/').collect();
    match levels[..] {
        [_, _, "say", severity] => format!("PREFIX/SITE/say/{severity}"),
        [_, _, _, last] => format!("PREFIX/SITE/BENCH/{last}"),
        [_, _, last] => format!("PREFIX/SITE/{last}"),
        _ => topic.to_owned(),
    }
}

#[test]
fn what_the_documents_name_is_what_a_run_emits() {
    let broker = Mosquitto::plain();
    let listener = broker.listen("phone", "anthesis/#");
    let house = house(&broker);
    // what befalls the house itself, from the same service in a house whose clock runs fast
    let mut warnings = "intake-down,clock-untrusted".to_owned();
    if is_long() {
        warnings.push_str(",store-failing,readings-behind");
    }
    let mut rehearse = Command::new(built("rehearse"));
    rehearse.env("TMPDIR", house.folder.path()).args(["--quick", "--warnings", &warnings, "--broker"]);
    rehearse.arg(format!("mqtt://127.0.0.1:{}", broker.port()));
    let played = rehearse.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().expect("it starts");

    let service = Service::start(&house);
    let at = page_of(&service);
    service.wait_for_log("read to its end");
    let log = service.log();
    let readings = log.rsplit(" readings=").next().and_then(|rest| rest.split(' ').next()).expect("a count");
    let figures = || {
        // who asks without a pause is held up as anybody is
        thread::sleep(Duration::from_millis(200));
        ask(at, "GET /metrics", &[], "").body
    };
    // what is published while the keeper has more than it can take is dropped with a word
    let taken = format!("anthesisd_readings_total {readings}\n");
    eventually("the recording is told to its end", || figures().contains(&taken));
    broker.publish("anthesis/saltmarsh/west-2/sign", br#"{"sign":"bract-dropped"}"#, false);
    let booked = "SELECT count(*) FROM event WHERE kind = 'sign-booked' AND bench = 'west-2'";
    eventually("the sign is taken up", || house.figure(booked) == 1);
    broker.publish("anthesis/saltmarsh/west-2/acknowledge", b"ok", false);
    broker.publish("anthesis/saltmarsh/acknowledge", b"ok", false);
    let answered = "SELECT count(*) FROM event WHERE kind = 'acknowledged'";
    eventually("what is said of alarms is answered", || house.figure(answered) == 2);
    let mut told = String::new();
    eventually("all has gone out", || {
        told = figures();
        told.contains("anthesisd_outbox_messages 0.0")
    });
    // the record is removed under it
    for end in ["", "-wal", "-shm"] {
        let _ = fs::remove_file(house.path(&format!("anthesisd.db{end}")));
    }
    service.wait_for_log("/store-replaced-over/");
    assert!(service.terminate().0.success());

    let output = played.wait_with_output().expect("it ends");
    assert!(output.status.success(), "{}", said(&output));
    broker.publish("anthesis/end-of-test", b"the end of the test", false);
    let mut kinds = Kinds::new();
    hear(&listener, "the end of the test", &mut kinds);

    compare_kinds(&kinds);
    compare_topics(&broker.log());
    compare_figures(&told);
}

fn compare_kinds(seen: &Kinds) {
    // the one list in the code
    let description = anthesisd::page::description();
    let list = description["components"]["schemas"]["EventKind"]["oneOf"].as_array().expect("kinds");
    let known: BTreeSet<&str> = list.iter().filter_map(|kind| kind["const"].as_str()).collect();
    let handbook = text("deploy/HANDBOOK.md");
    let table = rows(section(&handbook, "What the messages mean"));
    let mut documented = BTreeMap::new();
    for row in &table {
        documented.extend(code(row[0]).map(|kind| (kind, row[1])));
    }
    let named: BTreeSet<&str> = documented.keys().copied().collect();
    assert_eq!(
        named, known,
        "deploy/HANDBOOK.md, \"What the messages mean\", beside the kinds that the code knows"
    );

    let unseen: BTreeSet<&str> = known.iter().copied().filter(|kind| !seen.contains_key(*kind)).collect();
    let excused = if is_long() { BTreeSet::new() } else { BTreeSet::from(OF_THE_LONG_FORM) };
    assert_eq!(unseen, excused, "kinds that no run emitted");
    for (kind, severities) in seen {
        for severity in severities {
            let comes_as = documented[kind.as_str()];
            assert!(
                comes_as.contains(severity),
                "{kind} came as {severity}, and the handbook has {comes_as:?}"
            );
        }
    }

    // each warning has its paragraph, and no paragraph is of something else
    let grower = text("deploy/GROWER.md");
    let paragraphs = entries(section(&grower, "When a warning comes"));
    let paragraphs: BTreeSet<&str> = paragraphs.iter().map(|(name, _)| name.as_str()).collect();
    let warns = |kind: &&str| documented[*kind].contains("warning") && !kind.ends_with("-over");
    let missing: Vec<&str> =
        known.iter().copied().filter(warns).filter(|kind| !paragraphs.contains(kind)).collect();
    assert!(missing.is_empty(), "GROWER.md, \"When a warning comes\", has no paragraph for {missing:?}");
    let unknown: Vec<_> =
        paragraphs.iter().filter(|name| !name.contains(' ') && !known.contains(**name)).collect();
    assert!(unknown.is_empty(), "GROWER.md tells of {unknown:?}");
}

fn compare_topics(log: &str) {
    let yes_or_no = |holds| if holds { "yes" } else { "no" };
    let used: BTreeSet<String> = used_by(log, "anthesisd")
        .into_iter()
        .map(|used| {
            let direction = if used.out { "out" } else { "in" };
            format!(
                "{} {direction}, retained: {}, QoS {}",
                in_general(&used.topic),
                yes_or_no(used.retained),
                used.qos
            )
        })
        .collect();
    let programs = text("deploy/PROGRAMS.md");
    let (later, now): (Vec<_>, Vec<_>) =
        rows(section(&programs, "Topics")).into_iter().partition(|row| row[1] == "not yet");
    let documented: BTreeSet<String> = now
        .iter()
        .map(|row| format!("{} {}, retained: {}, QoS {}", row[0].trim_matches('`'), row[1], row[2], row[3]))
        .collect();
    assert_eq!(documented, used, "deploy/PROGRAMS.md, \"Topics\", beside what went over the wire");

    // what is to come is refused by this version in so many words
    assert_eq!(later.iter().map(|row| row[0]).collect::<Vec<_>>(), ["`PREFIX/SITE/BENCH/reading`"]);
    let output = House::new().with_bench("east-3").with("[[intake]]\nkind = \"mqtt\"\n").run(&["check"]);
    assert!(said(&output).contains("this version has no mqtt intakes"), "{}", said(&output));

    // wherever else a topic is named, it is one of them
    let topics: BTreeSet<&str> = now.iter().chain(&later).map(|row| row[0].trim_matches('`')).collect();
    let mut elsewhere = 0;
    for name in ["README.md", "deploy/HANDBOOK.md", "deploy/GROWER.md", "deploy/mosquitto-access"] {
        let whole = text(name);
        for word in whole.split(|symbol: char| symbol.is_whitespace() || "`'\"(),".contains(symbol)) {
            if word.starts_with("anthesis/") && !word.ends_with('#') {
                let general = in_general(word);
                assert!(topics.contains(general.as_str()), "{name} names {word}");
                elsewhere += 1;
            }
        }
    }
    assert!(elsewhere >= 15, "{elsewhere}");
}

/// A row of the table for each figure: name, labels, the words that come with it (OpenMetrics 1.0: `# HELP`).
fn figure_rows(told: &str) -> BTreeSet<String> {
    let mut help = "";
    let mut labels: BTreeMap<&str, (BTreeSet<&str>, &str)> = BTreeMap::new();
    for line in told.lines() {
        if let Some(rest) = line.strip_prefix("# HELP ") {
            help = rest.split_once(' ').map_or("", |(_, words)| words.trim_end_matches('.'));
        } else if !line.starts_with('#') {
            let name = line.split(['{', ' ']).next().unwrap_or_default();
            let entry = labels.entry(name).or_insert((BTreeSet::new(), help));
            let inside =
                line.split_once('{').map_or("", |(_, rest)| rest.split('}').next().unwrap_or_default());
            entry.0.extend(inside.split("\",").filter_map(|label| Some(label.split_once('=')?.0)));
        }
    }
    let row = |(name, (labels, help)): (&str, (BTreeSet<&str>, &str))| {
        let labels: Vec<String> = labels.iter().map(|label| format!("`{label}`")).collect();
        format!("| `{name}` | {} | {help} |", labels.join(", "))
    };
    labels.into_iter().map(row).collect()
}

/// The table is made from the code: `ANTHESISD_WRITE=1` writes it anew.
#[test]
fn every_quantity_is_documented() {
    const HEAD: &str = "| name | unit | from, to | what it is |\n| --- | --- | --- | --- |\n";
    let rows: String = Quantity::ALL
        .into_iter()
        .map(|quantity| {
            let (lowest, highest) = quantity.range();
            let words = capital(quantity.words());
            format!("| `{}` | `{}` | {lowest}, {highest} | {words} |\n", quantity.name(), quantity.unit())
        })
        .collect();
    let programs = text("deploy/PROGRAMS.md");
    let (before, rest) = programs.split_once(HEAD).expect("deploy/PROGRAMS.md, \"Quantities\"");
    let end = rest.find("\n\n").map_or(rest.len(), |end| end + 1);
    let (documented, after) = if rest.starts_with('\n') { ("", rest) } else { rest.split_at(end) };
    if std::env::var_os("ANTHESISD_WRITE").is_some() {
        fs::write(file("deploy/PROGRAMS.md"), format!("{before}{HEAD}{rows}{after}"))
            .expect("it can be written");
        return;
    }
    assert_eq!(documented, rows, "deploy/PROGRAMS.md, \"Quantities\"");
}

/// The table is made from a run: `ANTHESISD_WRITE=1` writes it anew.
fn compare_figures(told: &str) {
    let wanted = figure_rows(told);
    let programs = text("deploy/PROGRAMS.md");
    let table = section(&programs, "Figures");
    let documented: BTreeSet<String> =
        table.lines().filter(|line| line.starts_with("| `")).map(str::to_owned).collect();
    if std::env::var_os("ANTHESISD_WRITE").is_some() {
        let kept: Vec<&str> = programs.lines().filter(|line| !documented.contains(*line)).collect();
        let rows: Vec<&str> = wanted.iter().map(String::as_str).collect();
        fs::write(file("deploy/PROGRAMS.md"), format!("{}\n{}\n", kept.join("\n"), rows.join("\n")))
            .expect("it can be written");
        return;
    }
    assert_eq!(documented, wanted, "deploy/PROGRAMS.md, \"Figures\", beside what /metrics told");
}
