//! Each sentence, word for word. What to do or what is so stands first, and no name of a file within a locked phone's 60 characters.

use std::path::{Path, PathBuf};

use bloom_model::heat::HeatLimits;
use bloom_model::message::Words;
use bloom_model::sign::{MovedMounts, PlainSign, Sign};
use bloom_model::spec::{SiteSpec, Units};
use bloom_model::time::Time;
use chrono::TimeDelta;

use super::*;
use crate::clock::Doubt;
use crate::keeper::KeeperError;
use crate::store::StoreError;

/// Wednesday 2 June 2027, 09:00 in Halifax.
const NINE: Time = Time::from_unix_ms(1_811_937_600_000);

fn with_words<T>(say: impl FnOnce(&Words<'_>) -> T) -> T {
    let spec = SiteSpec {
        name: "saltmarsh".into(),
        timezone: chrono_tz::America::Halifax,
        units: Units::Metric,
        pressure_kpa: 101.325,
        morning_hour: 7,
        silent_after: TimeDelta::minutes(15),
        heat: HeatLimits::default(),
        test_alarms: true,
    };
    say(&Words::new(&spec, &spec.name, None))
}

/// The sentence, if it keeps to the rules.
fn kept(message: String) -> String {
    for word in [" booked", " rim", "-0.0", " 0 %", "keeper", "daemon", "second way out", "stage"] {
        assert!(!message.contains(word), "{word:?} in {message:?}");
    }
    let first: String = message.chars().take(60).collect();
    assert!(!first.contains('/'), "a path in {first:?}");
    message
}

#[test]
fn the_record() {
    let path = || PathBuf::from("/var/lib/anthesisd/anthesisd.db");
    let nothing = |why: StoreError| {
        let message = with_words(|words| nothing_recorded(words, NINE, &KeeperError::Store(why)));
        kept(message).split(" In full: ").next().unwrap_or_default().to_owned()
    };
    let rest = "Watch and alarms go on. Mend it within four hours, or readings are lost.";
    for (why, cause) in [
        (StoreError::DiskFull { path: path() }, "the disk is full"),
        (StoreError::Locked { path: path() }, "another program holds the file"),
        (StoreError::Damaged { path: path(), why: String::new() }, "the file is damaged"),
        (StoreError::Permission { path: path(), why: String::new() }, "no permission for the file"),
        (StoreError::Disk { path: path(), why: String::new() }, "the disk fails"),
        (
            StoreError::Newer { path: path(), found: 99, known: 1 },
            "the file is of another version or program",
        ),
    ] {
        assert_eq!(nothing(why), format!("Nothing has been recorded since Wed 09:00: {cause}. {rest}"));
    }
    assert_eq!(recorded_again(Lost::default()), "The record is written again: nothing was lost.");
    let open = vec!["others may read or change the record (mode 0644); run: chmod 600 /a".to_owned()];
    assert_eq!(
        kept(not_sound(&open)),
        format!("The record is open to others; watch and alarms go on. Found: {}.", open[0])
    );
    let faults: Vec<String> = ["page 3", "page 4", "page 5"].map(str::to_owned).into();
    assert_eq!(
        kept(not_sound(&faults)),
        "The record is not sound; watch and alarms go on. Copy the file away, stop the service, put back a backup (`anthesisd restore \
         FILE`) and start it; then look at the disk's health. Found: page 3; page 4, and 1 more (see the log)."
    );
    let saved = Path::new("/var/lib/anthesisd/anthesisd.db.was-open-1");
    assert_eq!(
        kept(with_words(|words| was_here(words, Some(NINE), Some(saved)))),
        "The record is gone, an empty one was begun; the watch goes on as it was left. Stop the service, put back what was saved: \
         /var/lib/anthesisd/anthesisd.db.was-open-1 (`anthesisd restore FILE`), and start it. What is gone was last written 2 Jun 2027 09:00."
    );
    assert_eq!(
        kept(with_words(|words| older(words, Some(NINE)))),
        "The record is an older copy; the watch goes on as it was left. Stop the service, put back the newer one or a backup (`anthesisd \
         restore FILE`), and start it. The newer one was written until 2 Jun 2027 09:00."
    );
    assert_eq!(
        kept(taken_away(&path())),
        "The record was removed or replaced; the watch goes on. What was open is saved beside it. Stop the service before you move or \
         replace its record (/var/lib/anthesisd/anthesisd.db)."
    );
    assert_eq!(kept(in_place(None)), "The record is in its place again, and is written on.");
}

#[test]
fn the_lines() {
    let port = "/dev/serial/by-id/usb-1";
    let line =
        DeadLine { name: port, since: NINE, why: None, unwatched: None, not_read: Some("east-3, east-4") };
    let said = |line: DeadLine<'_>| kept(with_words(|words| line.said(words)));
    let why = Some("the device is gone: check cable and adapter");
    assert_eq!(
        said(DeadLine { why, ..line }),
        "Line dead: east-3, east-4 not read since Wed 09:00. The device is gone: check cable and adapter (/dev/serial/by-id/usb-1)."
    );
    assert_eq!(
        said(DeadLine { not_read: None, ..line }),
        "Line dead: nothing read by it since Wed 09:00. Nobody speaks on it: check power and cable of its boards (/dev/serial/by-id/usb-1)."
    );
    let alarm = said(DeadLine { unwatched: Some("east-3"), why, ..line });
    assert_eq!(
        alarm,
        "NOT WATCHED: look by eye now at east-3. Not alone, from the ground or by camera, until this is mended. Line dead: east-3, east-4 \
         not read since Wed 09:00. The device is gone: check cable and adapter (/dev/serial/by-id/usb-1)."
    );
    assert_eq!(
        alarm.chars().take(60).collect::<String>(),
        "NOT WATCHED: look by eye now at east-3. Not alone, from the "
    );
    assert_eq!(
        kept(line_works(port, Some("east-3, east-4"))),
        "Line works again: readings have come without a break, of east-3, east-4 (/dev/serial/by-id/usb-1)."
    );
}

#[test]
fn the_clock() {
    let said = |doubt| kept(with_words(|words| clock_wrong(words, doubt, Some(NINE))));
    let claimed = "It says 2 Jun 2027 09:00.";
    assert_eq!(
        said(Doubt::NotSet),
        format!(
            "Clock wrong: hours and dates in messages may be wrong. The watch goes on. Set it in the day (timedatectl), and look at network \
             and battery. {claimed} The newest reading is later than that."
        )
    );
    let who = "The watch goes on. Find out who set it: a time server should keep it.";
    assert_eq!(
        said(Doubt::Stepped(TimeDelta::minutes(-60))),
        format!("Clock was set back 60 min: for some hours message times run late. {who} {claimed}")
    );
    assert_eq!(
        said(Doubt::Stepped(TimeDelta::hours(5))),
        format!("Clock was set forward 5 h: earlier readings carry times 5 h too early. {who} {claimed}")
    );
    assert_eq!(
        said(Doubt::NotSynchronised),
        format!(
            "Clock not confirmed by a time server since the start: hours in messages may be wrong. The watch goes on. Check the network and \
             the time service (timedatectl). {claimed}"
        )
    );
    assert_eq!(CLOCK_RIGHT, "The clock is right again.");
}

#[test]
fn the_database_and_the_people() {
    let why = "http://127.0.0.1:8086 answered 503";
    assert_eq!(
        kept(with_words(|words| no_copies(words, NINE, why))),
        format!(
            "No hurry: the database takes no copies since Wed 09:00. Nothing is lost, readings are sent when it goes on. ({why})"
        )
    );
    assert_eq!(
        kept(with_words(|words| all_copied(words, NINE))),
        "The database has all copies again. It had taken none since Wed 09:00."
    );
    assert_eq!(unanswered(40), "UNANSWERED 40 min: ");
    assert_eq!(unanswered(140), "UNANSWERED 2 h: ");
    let sign = Sign::Plain(PlainSign::Opened);
    let undated = Undated { sign: &sign, bench: "west-1", from: None, until: NINE };
    assert_eq!(
        kept(with_words(|words| undated.said(words))),
        "When was \"opened\" at west-1? It was sent before 2 Jun 2027 09:00, while nobody listened, and nothing follows from it yet. Record \
         it: anthesisd sign west-1 opened --at \"18:00\"."
    );
    // each is typed as the command takes it
    for (sign, typed) in [
        (Sign::Withdrawn(PlainSign::Opened), "anthesisd sign west-1 opened --withdraw --at"),
        (Sign::HeightWithdrawn, "anthesisd tape west-1 --withdraw --at"),
        (
            Sign::MountMoved(MovedMounts { tip_m: Some(3.6), rim_m: Some(0.95) }),
            "anthesisd sign west-1 mount-moved --tip 3.6 --rim 0.95 --at",
        ),
    ] {
        let undated = Undated { sign: &sign, ..undated };
        let said = with_words(|words| undated.said(words));
        assert!(said.contains(typed), "{said}");
    }
}
