//! The broker's access rules as they are shipped, on a real mosquitto: what the service hears comes from whom it should.

use std::fs;
use std::os::unix::fs::PermissionsExt;

use anthesisd::store::Reader;
use end_to_end::house::{House, said};
use end_to_end::mosquitto::{Login, Mosquitto};
use end_to_end::service::{Service, eventually};

use super::text;

const SERVICE: Login = ("saltmarsh", "fucus");
const GROWER: Login = ("grower", "laminaria");
const BOARDS: Login = ("boards", "chorda");
/// Known to the broker, for something else.
const STRANGER: Login = ("dunes", "ammophila");
/// Hears everything; of these checks only.
const WITNESS: Login = ("witness", "alaria");

/// A house whose service logs in by its name; its one intake is a file without a reading.
fn house_of(broker: &Mosquitto) -> House {
    let house = House::new().with_bench("east-3").with_recording("pipe");
    fs::write(house.path("password"), SERVICE.1).expect("the password can be written");
    fs::set_permissions(house.path("password"), fs::Permissions::from_mode(0o600))
        .expect("its mode can be set");
    fs::write(house.path("pipe"), "").expect("the recording can be written");
    house.with(&format!(
        "[mqtt]\nbroker = \"mqtt://127.0.0.1:{}\"\nusername = \"{}\"\npassword_file = \"password\"\n",
        broker.port(),
        SERVICE.0
    ))
}

#[test]
fn a_stranger_cannot_acknowledge_book_a_sign_or_inject_readings() {
    let access = format!("{}\nuser witness\ntopic read #\n", text("deploy/mosquitto-access"));
    let broker = Mosquitto::with_rules(
        &text("deploy/mosquitto.conf"),
        &access,
        &[SERVICE, GROWER, BOARDS, STRANGER, WITNESS],
    );
    let witness = broker.listen_as(WITNESS, "witness", "anthesis/saltmarsh/#");
    let house = house_of(&broker);
    let check = said(&house.run(&["check"]));
    assert!(check.contains("lets us in, and passes on what we say"), "{check}");
    let service = Service::start(&house);
    witness.until(|heard| heard.topic == "anthesis/saltmarsh/daemon" && heard.payload.contains("\"up\""));
    broker.wait_for_log("anthesis/saltmarsh/+/sign (QoS");

    let sign = ("anthesis/saltmarsh/east-3/sign", "{\"sign\":\"opened\",\"by\":\"nobody\"}");
    let acknowledge = ("anthesis/saltmarsh/acknowledge", "{\"id\":\"x\",\"by\":\"nobody\"}");
    let acknowledge_bench = ("anthesis/saltmarsh/east-3/acknowledge", "{\"id\":\"x\",\"by\":\"nobody\"}");
    let reading = ("anthesis/saltmarsh/east-3/reading", "[{\"n\":\"rim-range\",\"u\":\"m\",\"v\":0.3}]");
    let spoken = ["east-3/event", "east-3/alarm", "east-3/now", "event", "alarm", "say/alarm", "daemon"]
        .map(|topic| (format!("anthesis/saltmarsh/{topic}"), "{\"by\":\"nobody\"}"));
    let spoken = spoken.iter().map(|(topic, payload)| (topic.as_str(), *payload));
    // nobody comes in without a name and its own password
    for login in [None, Some((GROWER.0, "wrong")), Some(("nobody", "fucus"))] {
        assert!(!broker.publish_as(login, sign.0, sign.1), "{login:?}");
    }
    // whoever comes in is heard on what is theirs alone; the rest the broker drops, without a word in MQTT 3.1.1
    let asked = [sign, acknowledge, acknowledge_bench];
    let refused = spoken
        .clone()
        .chain([reading])
        .map(|(topic, payload)| (GROWER, topic, payload))
        .chain(asked.map(|(topic, payload)| (BOARDS, topic, payload)))
        .chain(spoken.chain(asked).chain([reading]).map(|(topic, payload)| (STRANGER, topic, payload)));
    let mut tried = 0;
    for (login, topic, payload) in refused {
        assert!(broker.publish_as(Some(login), topic, payload), "{login:?} {topic}");
        tried += 1;
    }
    assert_eq!(tried, 8 + 3 + 11);
    // what is allowed arrives, and comes after all that was dropped
    assert!(broker.publish_as(Some(BOARDS), reading.0, reading.1));
    assert!(broker.publish_as(Some(GROWER), sign.0, "{\"sign\":\"opened\",\"by\":\"ann\"}"));
    let heard = witness.until(|heard| heard.payload.contains("opening-tonight"));
    assert!(heard.iter().all(|heard| !heard.payload.contains("nobody")), "{heard:?}");
    assert_eq!(heard.iter().filter(|heard| heard.topic == reading.0).count(), 1);

    let told: serde_json::Value = serde_json::from_str(&heard.last().unwrap().payload).unwrap();
    let by = |name: &str| serde_json::json!({ "id": told["id"], "by": name }).to_string();
    assert!(broker.publish_as(Some(STRANGER), acknowledge_bench.0, &by("nobody")));
    assert!(broker.publish_as(Some(BOARDS), acknowledge_bench.0, &by("nobody")));
    assert!(broker.publish_as(Some(GROWER), acknowledge_bench.0, &by("ann")));
    let acknowledged = || {
        let sql = "SELECT acknowledged_by FROM alarm WHERE kind = 'opening-tonight'";
        house.store().query_row(sql, [], |row| row.get::<_, Option<String>>(0)).unwrap_or_default()
    };
    eventually("the alarm is acknowledged", || acknowledged().is_some());
    assert_eq!(acknowledged().as_deref(), Some("ann"));
    drop(service);
    // one sign, booked by one person
    let signs = house.figure("SELECT count(*) FROM booked WHERE what = 'opened' AND by = 'ann'");
    assert_eq!((signs, house.figure("SELECT count(*) FROM booked")), (1, 1));
    Reader::open(&house.path("anthesisd.db")).unwrap();
}

#[test]
fn check_says_when_the_broker_takes_what_nobody_will_hear() {
    // the service may not speak, and is not told so: MQTT 3.1.1 acknowledges what the rules drop (section 3.3.5)
    let mute = text("deploy/mosquitto-access").replace("topic write anthesis/saltmarsh/#", "");
    let broker = Mosquitto::with_rules(&text("deploy/mosquitto.conf"), &mute, &[SERVICE]);
    let house = house_of(&broker);
    let check = said(&house.run(&["check"]));
    assert!(check.contains("lets us in and does not pass on"), "{check}\n{}", broker.log());
    assert!(
        check.contains("Let \"saltmarsh\" write anthesis/saltmarsh/# and read anthesis/saltmarsh/check"),
        "{check}"
    );
}

#[test]
fn the_sample_goes_beside_debian_s_own_configuration() {
    // what Debian's package reads before the folder that the sample goes to
    let debians = "pid_file /run/mosquitto/mosquitto.pid\npersistence true\npersistence_location /var/lib/mosquitto/\n\
                   log_dest file /var/log/mosquitto/mosquitto.log\ninclude_dir /etc/mosquitto/conf.d\n";
    for line in debians.lines().filter(|line| !line.starts_with("persistence true")) {
        let key = line.split(' ').next().unwrap();
        let sample = text("deploy/mosquitto.conf");
        assert!(!sample.lines().any(|line| line.starts_with(key)), "{key} stands in Debian's file already");
    }
}
