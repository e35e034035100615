//! Each sentence, word for word. What to do or what is so stands first, and no name of a file within a locked phone's 60 characters.

use bloom_model::event::{ClockTrouble, Lost, RecordFault, SiteTrouble};
use bloom_model::sign::{MovedMounts, PlainSign, Sign};

use super::*;

/// Wednesday 2 June 2027, 09:00 in Halifax.
const NINE: Time = Time::from_unix_ms(1_811_937_600_000);

/// What is said of `what`, if it keeps to the rules.
fn said(trouble: SiteTrouble, what: &str) -> String {
    let site = site();
    let message = Words::new(&site, &site.name, None).trouble(&trouble, what, NINE);
    keeps_the_rules(&message);
    message
}

const FILE: &str = "/var/lib/anthesisd/anthesisd.db";

#[test]
fn the_record() {
    let rest = "Watch and alarms go on. Mend it within four hours, or readings are lost.";
    for (fault, cause) in [
        (RecordFault::DiskFull, "the disk is full"),
        (RecordFault::Held, "another program holds the file"),
        (RecordFault::Damaged, "the file is damaged"),
        (RecordFault::Permission, "no permission for the file"),
        (RecordFault::Disk, "the disk fails"),
        (RecordFault::Foreign, "the file is of another version or program"),
    ] {
        let in_full = "the database answered so".to_owned();
        assert_eq!(
            said(SiteTrouble::NotRecorded { fault, in_full }, FILE),
            format!(
                "Nothing has been recorded since Wed 09:00: {cause}. {rest} In full: the database answered so."
            )
        );
    }
    assert_eq!(
        said(SiteTrouble::RecordedAgain(Lost::default()), FILE),
        "The record is written again: nothing was lost."
    );
    let open = vec!["others may read or change the record (mode 0644); run: chmod 600 /a".to_owned()];
    assert_eq!(
        said(SiteTrouble::NotSound(open.clone()), FILE),
        format!("The record is open to others; watch and alarms go on. Found: {}.", open[0])
    );
    let faults: Vec<String> = ["page 3", "page 4", "page 5"].map(str::to_owned).into();
    assert_eq!(
        said(SiteTrouble::NotSound(faults), FILE),
        "The record is not sound; watch and alarms go on. Copy the file away, stop the service, put back a backup (`anthesisd restore \
         FILE`) and start it; then look at the disk's health. Found: page 3; page 4, and 1 more (see the log)."
    );
    let saved = Some(format!("{FILE}.was-open-1"));
    assert_eq!(
        said(SiteTrouble::RecordGone { written: Some(NINE), saved }, FILE),
        "The record is gone, an empty one was begun; the watch goes on as it was left. Stop the service, put back what was saved: \
         /var/lib/anthesisd/anthesisd.db.was-open-1 (`anthesisd restore FILE`), and start it. What is gone was last written 2 Jun 2027 09:00."
    );
    assert_eq!(
        said(SiteTrouble::RecordOlder { written: Some(NINE) }, FILE),
        "The record is an older copy; the watch goes on as it was left. Stop the service, put back the newer one or a backup (`anthesisd \
         restore FILE`), and start it. The newer one was written until 2 Jun 2027 09:00."
    );
    assert_eq!(
        said(SiteTrouble::RecordTakenAway, FILE),
        "The record was removed or replaced; the watch goes on. What was open is saved beside it. Stop the service before you move or \
         replace its record (/var/lib/anthesisd/anthesisd.db)."
    );
    assert_eq!(
        said(SiteTrouble::RecordInPlace { saved: None }, FILE),
        "The record is in its place again, and is written on."
    );
}

#[test]
fn the_lines() {
    let port = "/dev/serial/by-id/usb-1";
    let both: Vec<Arc<str>> = ["east-3", "east-4"].map(Arc::from).into();
    let gone = || Some("the device is gone: check cable and adapter".to_owned());
    let dead = |why, unwatched, not_read| said(SiteTrouble::LineDead { why, unwatched, not_read }, port);
    assert_eq!(
        dead(gone(), vec![], both.clone()),
        "Line dead: east-3, east-4 not read since Wed 09:00. The device is gone: check cable and adapter (/dev/serial/by-id/usb-1)."
    );
    assert_eq!(
        dead(None, vec![], vec![]),
        "Line dead: nothing read by it since Wed 09:00. Nobody speaks on it: check power and cable of its boards (/dev/serial/by-id/usb-1)."
    );
    let alarm = dead(gone(), both[..1].to_vec(), both.clone());
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
        said(SiteTrouble::LineWorks { read: both }, port),
        "Line works again: readings have come without a break, of east-3, east-4 (/dev/serial/by-id/usb-1)."
    );
    let many = (1..=8).map(|number| Arc::from(format!("west-{number}"))).collect();
    assert_eq!(
        said(SiteTrouble::LineWorks { read: many }, port),
        "Line works again: readings have come without a break, of west-1, west-2, west-3, west-4, west-5, west-6 and 2 more \
         (/dev/serial/by-id/usb-1)."
    );
}

#[test]
fn the_clock() {
    let wrong = |doubt| said(SiteTrouble::ClockWrong { doubt, claimed: Some(NINE) }, "clock");
    let claimed = "It says 2 Jun 2027 09:00.";
    assert_eq!(
        wrong(ClockTrouble::NotSet),
        format!(
            "Clock wrong: hours and dates in messages may be wrong. The watch goes on. Set it in the day (timedatectl), and look at network \
             and battery. {claimed} The newest reading is later than that."
        )
    );
    let who = "The watch goes on. Find out who set it: a time server should keep it.";
    assert_eq!(
        wrong(ClockTrouble::Stepped(TimeDelta::minutes(-60))),
        format!("Clock was set back 60 min: for some hours message times run late. {who} {claimed}")
    );
    assert_eq!(
        wrong(ClockTrouble::Stepped(TimeDelta::hours(5))),
        format!("Clock was set forward 5 h: earlier readings carry times 5 h too early. {who} {claimed}")
    );
    assert_eq!(
        wrong(ClockTrouble::NotSynchronised),
        format!(
            "Clock not confirmed by a time server since the start: hours in messages may be wrong. The watch goes on. Check the network and \
             the time service (timedatectl). {claimed}"
        )
    );
    assert_eq!(said(SiteTrouble::ClockRight, "clock"), "The clock is right again.");
}

#[test]
fn the_database_and_the_people() {
    let why = "http://127.0.0.1:8086 answered 503";
    assert_eq!(
        said(SiteTrouble::NoCopies { why: why.to_owned() }, "readings_to"),
        format!(
            "No hurry: the database takes no copies since Wed 09:00. Nothing is lost, readings are sent when it goes on. ({why})"
        )
    );
    assert_eq!(
        said(SiteTrouble::AllCopied, "readings_to"),
        "The database has all copies again. It had taken none since Wed 09:00."
    );
    assert_eq!(unanswered(40), "UNANSWERED 40 min: ");
    assert_eq!(unanswered(140), "UNANSWERED 2 h: ");
    let sign = Sign::Plain(PlainSign::Opened);
    let site = site();
    let undated = |sign: &Sign, from| {
        let asked = Words::new(&site, "west-1", None).undated(sign, from, NINE);
        keeps_the_rules(&asked);
        asked
    };
    assert_eq!(
        undated(&sign, None),
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
        let asked = undated(&sign, Some(NINE.plus_hours(-1.0)));
        assert!(
            asked.contains("between 2 Jun 2027 08:00 and 2 Jun 2027 09:00") && asked.contains(typed),
            "{asked}"
        );
    }
}
