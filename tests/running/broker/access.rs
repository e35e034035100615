//! Who is let in and who is trusted, by password and by certificate.

use std::fs;
use std::path::PathBuf;
use std::time::Duration;

use anthesisd::notify::{Authorities, BrokerNews, PublisherSpec, try_broker};
use end_to_end::mosquitto::{Authority, Mosquitto, PATIENCE};
use tokio::runtime::Runtime;

use super::{House, brisk, spec, topics};

#[test]
fn a_private_authority_is_trusted_and_no_other() {
    let own = Authority::new("saltmarsh");
    let broker = Mosquitto::with_tls(&own, "localhost");
    let by =
        |authorities| PublisherSpec { tls: Some(authorities), host: "localhost".to_owned(), ..spec(&broker) };
    let trusted = by(Authorities::File(own.certificate()));
    let runtime = Runtime::new().unwrap();
    let check = |spec: &PublisherSpec| runtime.block_on(try_broker(spec, PATIENCE));
    assert_eq!(check(&trusted), Ok(()));
    for name in ["dunes", "saltmarsh"] {
        let foreign = Authority::new(name);
        let refusal = check(&by(Authorities::File(foreign.certificate()))).unwrap_err();
        let said = format!("is signed by none of the authorities in {}", foreign.certificate().display());
        assert!(refusal.contains(&said), "{refusal}");
    }
    let refusal = check(&by(Authorities::System)).unwrap_err();
    assert!(refusal.contains("/etc/ssl/certs/ca-certificates.crt"), "{refusal}");
    let by_address = PublisherSpec { host: "127.0.0.1".to_owned(), ..trusted.clone() };
    assert!(check(&by_address).unwrap_err().contains("is made out to another name"));
    let plain = check(&PublisherSpec { tls: None, ..trusted.clone() }).unwrap_err();
    assert!(plain.contains("closed the connection"), "{plain}");
    let mut house = House::new(trusted, brisk());
    house.add(1..=10);
    while house.delivered() < 10 {}
}

#[test]
fn an_authority_that_is_put_right_needs_no_restart() {
    let (own, foreign) = (Authority::new("saltmarsh"), Authority::new("dunes"));
    let broker = Mosquitto::with_tls(&own, "localhost");
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("ca.crt");
    let tls = Some(Authorities::File(file.clone()));
    let mut house = House::new(PublisherSpec { tls, host: "localhost".to_owned(), ..spec(&broker) }, brisk());
    assert!(house.disconnected().contains("No such file"));
    let put = |authority: &Authority| {
        // whole or not at all, as it may be read at any moment
        fs::copy(authority.certificate(), folder.path().join("new")).unwrap();
        fs::rename(folder.path().join("new"), &file).unwrap();
    };
    put(&foreign);
    assert!(house.disconnected().contains("is signed by none"));
    put(&own);
    house.connected();
}

#[test]
fn a_password_that_is_put_right_needs_no_restart() {
    let broker = Mosquitto::with_password("saltmarsh", "cinnamon");
    let folder = tempfile::tempdir().unwrap();
    let file: PathBuf = folder.path().join("mqtt-password");
    fs::write(&file, "cardamom\n").unwrap();
    let login = PublisherSpec {
        username: Some("saltmarsh".to_owned()),
        password_file: Some(file.clone()),
        ..spec(&broker)
    };
    let mut house = House::new(login.clone(), brisk());
    house.add([1]);
    let why = house.disconnected();
    assert!(why.contains("refused user \"saltmarsh\"") && why.contains("mqtt-password"), "{why}");
    assert!(!why.contains("cardamom"));
    fs::write(&file, "cinnamon\n").unwrap();
    house.connected();
    assert_eq!(house.delivered(), 1);
    let runtime = Runtime::new().unwrap();
    assert_eq!(runtime.block_on(try_broker(&login, PATIENCE)), Ok(()));
    let nobody = runtime.block_on(try_broker(&spec(&broker), PATIENCE)).unwrap_err();
    assert!(nobody.contains("wants a user and password"), "{nobody}");
}

#[test]
fn a_check_does_not_disturb_the_running_service() {
    let mut broker = Mosquitto::plain();
    let spec = spec(&broker);
    let mut house = House::new(spec.clone(), brisk());
    house.connected();
    let runtime = Runtime::new().unwrap();
    for id in 1..=5 {
        assert_eq!(runtime.block_on(try_broker(&spec, PATIENCE)), Ok(()));
        house.add([id]);
        assert_eq!(house.next(), BrokerNews::Delivered(id), "no connection was lost meanwhile");
    }
    assert_eq!(broker.received().iter().filter(|(topic, _)| *topic == topics().daemon()).count(), 0);
    broker.pause();
    let silent = runtime.block_on(try_broker(&spec, Duration::from_millis(500))).unwrap_err();
    assert!(silent.contains("no answer from 127.0.0.1"), "{silent}");
    broker.kill();
    let gone = runtime.block_on(try_broker(&spec, PATIENCE)).unwrap_err();
    assert!(gone.contains("cannot be reached"), "{gone}");
}
