//! The watch does not depend on the record: the real service on a record that is damaged, locked, of a newer version, gone,
//! replaced, or shared with a second service.
#![expect(clippy::expect_used, reason = "what the helpers of a check cannot do fails the check")]

use std::fs;
use std::os::unix::fs::{PermissionsExt, symlink};
use std::path::{Path, PathBuf};

use bench_sim::pty::Port;
use end_to_end::house::{House, anthesisd, said};
use end_to_end::line::{say, saying, sign};
use end_to_end::mosquitto::{Listener, Mosquitto};
use end_to_end::service::{Service, eventually};
use rusqlite::Connection;

use super::storage::{an_opening, id_of};

/// A house with a broker, a serial line and a phone that hears everything.
struct Watched {
    house: House,
    port: Port,
    phone: Listener,
    _broker: Mosquitto,
}

fn watched() -> Watched {
    let broker = Mosquitto::plain();
    let house = House::new().with_bench("east-3").with_serial("line").with_broker(broker.port());
    let phone = broker.listen("phone", "anthesis/saltmarsh/#");
    let port = Port::open(&house.path("line")).expect("a pseudo-terminal");
    Watched { house, port, phone, _broker: broker }
}

impl Watched {
    /// Lets the service live until it has booked a sign and written the mirror, and kills it.
    fn lived(&mut self) {
        let service = Service::start(&self.house);
        let (port, house) = (&mut self.port, &self.house);
        let mirror = || fs::read_to_string(house.path("anthesisd.db-mirror")).unwrap_or_default();
        saying(port, &sign("east-3", "spadix-visible"), || {
            eventually("the sign is booked", || house.figure("SELECT count(*) FROM booked") == 1);
            eventually("the mirror is written", || mirror().contains("sign-booked"));
        });
        service.kill();
    }

    fn store(&self) -> PathBuf {
        self.house.path("anthesisd.db")
    }

    fn hears(&self, what: &str) -> String {
        let text = format!("\"event\":\"{what}\"");
        let heard =
            self.phone.until(|heard| heard.topic.ends_with("/event") && heard.payload.contains(&text));
        heard.last().expect("something was heard").payload.clone()
    }

    /// An opening is told while the record is away, and is in it under the same id when it can be had.
    fn is_watched_without_record(&mut self, mut service: Service, mend: impl FnOnce(&Service)) {
        say(&mut self.port, &an_opening("east-3"));
        let text = "\"event\":\"opening-tonight\"";
        let id =
            id_of(&self.phone.until(|heard| heard.topic.ends_with("/event") && heard.payload.contains(text)));
        assert!(service.is_alive());
        mend(&service);
        let stored = format!("SELECT count(*) FROM event WHERE id = '{id}'");
        let store = self.store();
        eventually("the alarm is in the record under its id", || ask(&store, &stored) == Some(1));
        let stands = "SELECT count(*) FROM alarm WHERE kind = 'opening-tonight' AND ended_ms IS NULL";
        assert_eq!(ask(&store, stands), Some(1));
        eventually("the readings are there", || {
            ask(&store, "SELECT count(*) FROM reading").is_some_and(|readings| readings > 5_000)
        });
        let (status, log) = service.terminate();
        assert!(status.success(), "{log}");
        let check = self.house.run(&["check"]);
        assert!(said(&check).contains("anthesisd.db: is sound"), "{}", said(&check));
    }
}

/// A figure of a store, where it can be had.
fn ask(store: &Path, question: &str) -> Option<i64> {
    let flags = rusqlite::OpenFlags::SQLITE_OPEN_READ_ONLY;
    Connection::open_with_flags(store, flags).ok()?.query_row(question, [], |row| row.get(0)).ok()
}

fn without_log(store: &Path) {
    for end in ["-wal", "-shm"] {
        let _ = fs::remove_file(format!("{}{end}", store.display()));
    }
}

#[test]
fn a_start_on_a_damaged_record_watches_from_the_mirror_and_takes_a_backup_up() {
    let mut watched = watched();
    watched.lived();
    let store = watched.store();
    let backup = watched.house.path("backup.db").display().to_string();
    let output = watched.house.run(&["backup", &backup]);
    assert!(output.status.success(), "{}", said(&output));
    // every page but the first is no page
    let mut bytes = fs::read(&backup).expect("the backup can be read");
    bytes[4_096..].fill(0xA5);
    without_log(&store);
    fs::write(&store, &bytes).expect("the store can be damaged");

    let service = Service::start(&watched.house);
    assert!(watched.hears("store-failing").contains("damaged"));
    let log = service.log();
    assert!(log.contains("from the mirror"), "{log}");
    let house = watched.house.path("anthesisd.toml");
    watched.is_watched_without_record(service, |service| {
        // the service runs, and the record is put back all the same
        let mut restore = anthesisd();
        let output =
            restore.arg("--config").arg(house).args(["restore", &backup]).output().expect("it starts");
        assert!(output.status.success(), "{}", said(&output));
        service.wait_for_log("is taken up with what was gathered");
    });
}

#[test]
fn a_start_on_what_is_no_record_watches_all_the_same() {
    for what in ["text", "folder", "newer", "nothing can be made"] {
        let mut watched = watched();
        watched.lived();
        let (store, aside) = (watched.store(), watched.house.path("aside.db"));
        let output = watched.house.run(&["backup", &aside.display().to_string()]);
        assert!(output.status.success(), "{}", said(&output));
        without_log(&store);
        fs::remove_file(&store).expect("it was there");
        match what {
            "text" => fs::write(&store, "Kept notes of a rainy week. ".repeat(400)).expect("a file"),
            "folder" => fs::create_dir(&store).expect("a folder"),
            "newer" => {
                fs::copy(&aside, &store).expect("a copy");
                let newer = Connection::open(&store).expect("the store can be opened");
                newer.pragma_update(None, "user_version", 99).expect("the version can be set");
            }
            _ => symlink("/proc/nowhere/anthesisd.db", &store).expect("a link"),
        }
        let service = Service::start(&watched.house);
        watched.hears("store-failing");
        watched.is_watched_without_record(service, |_| {
            if store.is_dir() {
                fs::remove_dir(&store).expect("the folder can be removed");
            }
            fs::rename(&aside, &store).expect("the record can be put back");
        });
    }
}

#[test]
fn a_start_on_a_full_disk_watches_and_writes_all_of_it_down_when_there_is_room() {
    let mut watched = watched();
    watched.lived();
    let service = Service::spawn_on_a_full_disk(&watched.house);
    watched.hears("store-failing");
    watched.is_watched_without_record(service, |service| service.let_files_grow_to(None));
}

#[test]
fn a_record_that_is_removed_while_it_is_open_is_told_saved_and_put_back() {
    let mut watched = watched();
    let mut service = Service::start(&watched.house);
    let house = &watched.house;
    saying(&mut watched.port, &sign("east-3", "spadix-visible"), || {
        eventually("the sign is booked", || house.figure("SELECT count(*) FROM booked") == 1);
    });
    let store = watched.store();
    without_log(&store);
    fs::remove_file(&store).expect("it was there");
    let told = watched.hears("store-replaced");
    assert!(told.contains("\"severity\":\"warning\""), "{told}");
    assert!(watched.hears("store-replaced-over").contains(".was-open-"));
    assert_eq!(ask(&store, "SELECT count(*) FROM booked"), Some(1), "put back");
    assert_eq!(saved(&watched.house).len(), 1);
    assert_eq!(ask(&saved(&watched.house)[0], "SELECT count(*) FROM booked"), Some(1), "and kept beside");
    assert!(service.is_alive());
    let check = watched.house.run(&["check"]);
    assert!(said(&check).contains(".was-open-"), "{}", said(&check));

    // gone while nobody watches: told by check and by the next start, and the bud is still known
    service.kill();
    without_log(&store);
    fs::remove_file(&store).expect("it was put back");
    let check = watched.house.run(&["check"]);
    assert_eq!(check.status.code(), Some(1));
    assert!(said(&check).contains("was here and is gone"), "{}", said(&check));
    let service = Service::start(&watched.house);
    let told = watched.hears("store-replaced");
    assert!(told.contains("is gone") && told.contains(".was-open-"), "{told}");
    assert!(service.terminate().0.success());
}

#[test]
fn a_copy_that_is_laid_over_an_open_record_is_told_and_taken_up_and_what_was_open_is_saved() {
    let mut watched = watched();
    let service = Service::start(&watched.house);
    let (store, copy) = (watched.store(), watched.house.path("copy.db"));
    let output = watched.house.run(&["backup", &copy.display().to_string()]);
    assert!(output.status.success(), "{}", said(&output));
    let house = &watched.house;
    saying(&mut watched.port, &sign("east-3", "spadix-visible"), || {
        eventually("the sign is booked", || house.figure("SELECT count(*) FROM booked") == 1);
    });
    fs::rename(&copy, &store).expect("it can be moved");
    watched.hears("store-replaced");
    watched.hears("store-replaced-over");
    assert_eq!(ask(&saved(&watched.house)[0], "SELECT count(*) FROM booked"), Some(1));
    say(&mut watched.port, &sign("east-3", "bract-dropped"));
    eventually("the copy is written on", || ask(&store, "SELECT count(*) FROM booked") == Some(1));
    assert!(service.terminate().0.success());
    let check = watched.house.run(&["check"]);
    assert!(said(&check).contains("anthesisd.db: is sound"), "{}", said(&check));
}

fn saved(house: &House) -> Vec<PathBuf> {
    let files = fs::read_dir(house.folder.path()).expect("the folder can be read").flatten();
    let paths = files.map(|file| file.path());
    paths.filter(|path| path.to_string_lossy().contains(".was-open-")).collect()
}

#[test]
fn a_second_live_service_is_refused_by_whatever_name_and_though_files_are_removed() {
    let house = House::new().with_bench("east-3").with_serial("line");
    let _port = Port::open(&house.path("line")).expect("a pseudo-terminal");
    let mut service = Service::start(&house);
    let config = fs::read_to_string(house.config()).expect("the configuration can be read");
    let other = tempfile::tempdir().expect("a folder");
    let link = other.path().join("linked.db");
    symlink(house.path("anthesisd.db"), &link).expect("a link");
    let linked = other.path().join("linked.toml");
    let there = house.path("anthesisd.db").display().to_string();
    fs::write(&linked, config.replace(&there, &link.display().to_string())).expect("a file");
    let refused = |what: &str| {
        for path in [&house.path("anthesisd.toml"), &linked] {
            let output = anthesisd().arg("--config").arg(path).arg("run").output().expect("it starts");
            assert_eq!(output.status.code(), Some(1), "{what}: {}", said(&output));
            assert!(said(&output).contains("kept by another anthesisd"), "{what}: {}", said(&output));
        }
    };
    refused("as it is");
    fs::remove_file(house.path("anthesisd.db-keeper")).expect("there is a lock");
    refused("without its lock");
    without_log(&house.path("anthesisd.db"));
    fs::remove_file(house.path("anthesisd.db")).expect("there is a record");
    refused("without its record");
    assert!(service.is_alive());
    service.kill();
    let again = Service::start(&house);
    assert!(again.terminate().0.success());
}

#[test]
fn a_record_that_others_may_change_is_refused_by_check_and_told_by_the_service() {
    let mut watched = watched();
    watched.lived();
    fs::set_permissions(watched.store(), fs::Permissions::from_mode(0o666)).expect("its mode can be set");
    let check = watched.house.run(&["check"]);
    assert_eq!(check.status.code(), Some(1));
    assert!(said(&check).contains("chmod 600"), "{}", said(&check));
    let service = Service::start(&watched.house);
    assert!(watched.hears("store-failing").contains("mode 0666"));
    assert!(service.terminate().0.success());
}

#[test]
fn one_bit_of_a_reading_that_is_not_sealed_is_told() {
    let mut watched = watched();
    let service = Service::start(&watched.house);
    let house = &watched.house;
    // with the event that the sign is, the reading beside it is committed
    let both =
        r#"[{"bn":"east-3/","n":"temperature","u":"Cel","v":27.31},{"n":"sign","vs":"spadix-visible"}]"#;
    saying(&mut watched.port, &format!("{both}\n"), || {
        eventually("both are committed", || house.figure("SELECT count(*) FROM reading") > 0);
    });
    service.kill();
    let store = Connection::open(watched.store()).expect("the store can be opened");
    store
        .execute("UPDATE reading SET value = 27.310000000000006 WHERE fed = 1", [])
        .expect("a bit can be changed");
    drop(store);
    let check = watched.house.run(&["check"]);
    assert_eq!(check.status.code(), Some(1));
    assert!(said(&check).contains("are not those that were committed"), "{}", said(&check));
    let service = Service::start(&watched.house);
    assert!(watched.hears("store-failing").contains("not sound"));
    assert!(service.terminate().0.success());
}

#[test]
fn check_is_well_before_the_first_start() {
    let house = House::new().with_bench("east-3").with_recording("pipe");
    fs::write(house.path("pipe"), "").expect("a file");
    let check = house.run(&["check"]);
    assert!(check.status.success(), "{}", said(&check));
    assert!(said(&check).contains("it will be made at the first start"), "{}", said(&check));
    // root may write anywhere: whoever else may not is told so
    if !rustix::process::geteuid().is_root() {
        fs::set_permissions(house.folder.path(), fs::Permissions::from_mode(0o500)).expect("a mode");
        let check = house.run(&["check"]);
        assert!(said(&check).contains("cannot be written"), "{}", said(&check));
    }
}
