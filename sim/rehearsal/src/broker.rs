//! A broker on a loopback port, for a rehearsal only: no access rules, and it lives as long as the process.

use std::collections::HashMap;
use std::io;
use std::net::{Ipv4Addr, SocketAddr, TcpListener, TcpStream};
use std::thread;
use std::time::{Duration, Instant};

use rumqttd::{Broker, Config, ConnectionSettings, RouterConfig, ServerSettings};

/// The broker takes connections within this, or it has not started.
const PATIENCE: Duration = Duration::from_secs(10);

/// Starts a broker for MQTT 3.1.1 on a free loopback port, and gives the port.
///
/// # Errors
/// When there is no free port, or nothing listens on it in time.
pub(crate) fn start() -> io::Result<u16> {
    // the library says that all is well when its port is taken: so a port that was free a moment ago
    let address = TcpListener::bind((Ipv4Addr::LOCALHOST, 0))?.local_addr()?;
    let mut broker = Broker::new(config(address));
    // returns when the broker has failed, and else never: whether it listens is tried below
    thread::Builder::new().name("broker".to_owned()).spawn(move || drop(broker.start()))?;
    let deadline = Instant::now() + PATIENCE;
    loop {
        match TcpStream::connect(address) {
            Ok(_) => return Ok(address.port()),
            Err(error) if Instant::now() > deadline => {
                let text = format!("the rehearsal's own broker does not listen on {address}: {error}");
                return Err(io::Error::new(error.kind(), text));
            }
            Err(_) => thread::sleep(Duration::from_millis(10)),
        }
    }
}

fn config(listen: SocketAddr) -> Config {
    let server = ServerSettings {
        name: "rehearsal".to_owned(),
        listen,
        tls: None,
        next_connection_delay_ms: 1,
        connections: ConnectionSettings {
            connection_timeout_ms: 10_000,
            max_payload_size: 256 * 1024,
            max_inflight_count: 100,
            auth: None,
            external_auth: None,
            dynamic_filters: true,
        },
    };
    Config {
        router: RouterConfig {
            max_connections: 64,
            max_outgoing_packet_count: 200,
            // a listener that lags by more than these in one topic misses messages
            max_segment_size: 1024 * 1024,
            max_segment_count: 10,
            ..RouterConfig::default()
        },
        v4: Some(HashMap::from([("rehearsal".to_owned(), server)])),
        ..Config::default()
    }
}
