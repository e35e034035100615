//! The unit: its score, its promises, and that the daemon can live with them as far as this machine shows it.
//!
//! No service manager runs here. What is tried: the score and the spelling by systemd's own tool, and that every system call of
//! a run is among those that the unit lets through. Device rules, mounts and address lists are systemd's and are not tried.

use std::collections::BTreeSet;
use std::fs;
use std::process::{Command, Output};

use bench_sim::pty::Port;
use end_to_end::house::{House, said};
use end_to_end::line::{saying, sign};
use end_to_end::mosquitto::Mosquitto;

use super::{file, text};

/// The most that the unit may score by `systemd-analyze security`, from 0 (best) to 10.
const MOST: &str = "15";

fn analyze(arguments: &[&str]) -> Output {
    Command::new("systemd-analyze")
        .args(arguments)
        .output()
        .expect("systemd-analyze, of Debian's package systemd")
}

#[test]
fn the_unit_scores_at_most_one_and_a_half() {
    let unit = file("deploy/anthesisd.service").display().to_string();
    let threshold = format!("--threshold={MOST}");
    let output = analyze(&["security", "--offline=true", "--no-pager", &threshold, &unit]);
    assert!(output.status.success(), "{}", said(&output));
    // the tool judges: without the sandbox the same unit does not pass
    let folder = tempfile::tempdir().unwrap();
    let bare = folder.path().join("bare.service");
    fs::write(&bare, text("deploy/anthesisd.service").replace("CapabilityBoundingSet=\n", "")).unwrap();
    let output =
        analyze(&["security", "--offline=true", "--no-pager", &threshold, &bare.display().to_string()]);
    assert!(!output.status.success(), "{}", said(&output));
}

#[test]
fn systemd_understands_every_line_of_the_unit() {
    let output = analyze(&["verify", "--man=no", &file("deploy/anthesisd.service").display().to_string()]);
    let told = String::from_utf8_lossy(&output.stderr);
    let ours = told.lines().filter(|line| line.contains("anthesisd.service"));
    // before the package is installed, the one thing amiss is that its program is not there
    let left: Vec<&str> =
        ours.filter(|line| !line.contains("/usr/bin/anthesisd is not executable")).collect();
    assert!(left.is_empty(), "{left:?}");
}

#[test]
fn the_unit_promises_what_the_manual_says() {
    let unit = text("deploy/anthesisd.service");
    for line in [
        "Type=notify",
        "WatchdogSec=30",
        "StartLimitIntervalSec=0",
        "Restart=always",
        "TimeoutStopSec=5min",
        "RestartPreventExitStatus=78",
        "UMask=0077",
        "StateDirectoryMode=0700",
        "User=anthesisd",
        "SupplementaryGroups=dialout",
    ] {
        assert!(unit.lines().any(|found| found == line), "{line}");
    }
    // it would hide the serial ports
    assert!(!unit.contains("PrivateDevices=yes"));
}

/// Adapters as the udev rule names them, and a board's own ports: 8250 (ttyS) and Arm's PL011 (ttyAMA), names of the kernel's
/// Documentation/admin-guide/devices.txt, from memory.
#[test]
fn every_serial_port_that_has_a_name_may_be_opened() {
    let unit = text("deploy/anthesisd.service");
    let rules = text("deploy/anthesisd.rules");
    let named = rules.lines().filter_map(|line| line.split_once("KERNEL==\"")?.1.split_once('"'));
    let mut classes: BTreeSet<String> = named
        .flat_map(|(kernels, _)| kernels.split('|'))
        .map(|kernel| kernel.trim_end_matches("[0-9]*").to_owned())
        .collect();
    assert!(classes.len() >= 2, "{classes:?}");
    classes.extend(["ttyS", "ttyAMA"].map(str::to_owned));
    for class in classes {
        let line = format!("DeviceAllow=char-{class} rw");
        assert!(unit.lines().any(|found| found == line), "{line}");
    }
}

/// The system calls of the unit's filter, sets resolved by systemd's own tool.
fn let_through() -> BTreeSet<String> {
    let mut calls = BTreeSet::new();
    for line in text("deploy/anthesisd.service").lines() {
        let Some(list) = line.strip_prefix("SystemCallFilter=") else { continue };
        let (taken_out, list) = list.strip_prefix('~').map_or((false, list), |list| (true, list));
        for set in list.split_whitespace() {
            let members = members(set);
            if taken_out {
                calls.retain(|call| !members.contains(call));
            } else {
                calls.extend(members);
            }
        }
    }
    // these a filter by list always lets through (systemd.exec(5))
    calls.extend(
        ["execve", "exit", "exit_group", "getrlimit", "rt_sigreturn", "sigreturn"].map(str::to_owned),
    );
    calls
}

fn members(set: &str) -> BTreeSet<String> {
    if !set.starts_with('@') {
        return BTreeSet::from([set.to_owned()]);
    }
    let output = analyze(&["syscall-filter", "--no-pager", set]);
    assert!(output.status.success(), "{}", said(&output));
    let listed = String::from_utf8_lossy(&output.stdout);
    let words = listed.lines().map(str::trim).filter(|line| !line.is_empty() && !line.starts_with('#'));
    words.skip(1).flat_map(members).collect()
}

/// Calls that the filter turns away with an error, and the run does without: the standard library asks for the stack's limit,
/// and SQLite, where it runs as root, gives its files to the owner of the store.
const TURNED_AWAY: [&str; 2] = ["fchown", "prlimit64"];

#[test]
fn every_system_call_of_a_run_is_among_those_that_the_unit_lets_through() {
    let broker = Mosquitto::plain();
    let house = House::new().with_bench("east-3").with_serial("line").with_broker(broker.port());
    let mut port = Port::open(&house.path("line")).unwrap();
    let trace = house.path("trace");
    let ordinary = house.command(&["run"]);
    let mut traced = Command::new("strace");
    // what would be turned away is turned away
    let inject = format!("inject={}:error=EPERM", TURNED_AWAY.join(","));
    traced.args(["-f", "-qq", "-o"]).arg(&trace).arg("-e").arg("trace=all").arg("-e").arg(inject);
    traced.arg(ordinary.get_program()).args(ordinary.get_args());
    let log = fs::File::create(house.path("log")).unwrap();
    let mut process =
        traced.stdout(std::process::Stdio::null()).stderr(log).spawn().expect("strace, of Debian");
    let told = || fs::read_to_string(house.path("log")).unwrap_or_default();
    let listener = broker.listen("phone", "anthesis/saltmarsh/east-3/event");
    let opened = sign("east-3", "opened");
    saying(&mut port, &opened, || listener.until(|heard| heard.payload.contains("opening-tonight")));
    assert!(matches!(process.try_wait(), Ok(None)), "{}", told());
    let daemon = fs::read_to_string(&trace).unwrap();
    let daemon: i32 = daemon.split_whitespace().next().unwrap().parse().unwrap();
    let daemon = rustix::process::Pid::from_raw(daemon).unwrap();
    rustix::process::kill_process(daemon, rustix::process::Signal::TERM).unwrap();
    assert!(process.wait().unwrap().success(), "{}", told());

    let let_through = let_through();
    assert!(let_through.contains("read") && !let_through.contains("mount"), "{let_through:?}");
    let trace = fs::read_to_string(&trace).unwrap();
    let called: BTreeSet<&str> = trace
        .lines()
        .filter_map(|line| line.split_whitespace().nth(1)?.split_once('('))
        .map(|(name, _)| name)
        .filter(|name| {
            name.bytes().all(|byte| byte.is_ascii_lowercase() || byte.is_ascii_digit() || byte == b'_')
        })
        .collect();
    assert!(called.len() > 40, "{called:?}");
    let outside: Vec<&&str> =
        called.iter().filter(|call| !let_through.contains(**call) && !TURNED_AWAY.contains(call)).collect();
    assert!(outside.is_empty(), "the unit turns away {outside:?}");
}
