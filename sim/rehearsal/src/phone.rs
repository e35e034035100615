//! A client of the broker that has nothing to do with the service: it hears what a phone would.

use std::fs;
use std::time::Duration;

use anthesisd::config::MqttConfig;
use rumqttc::{
    AsyncClient, ConnectionError, Event, EventLoop, Incoming, MqttOptions, QoS, SubscribeReasonCode,
    TlsConfiguration, Transport,
};
use tokio::sync::mpsc;
use tokio::task::JoinHandle;
use tokio_rustls::rustls::crypto::ring;

/// The broker lets us in and takes the subscription within this, or we give up.
const PATIENCE: Duration = Duration::from_secs(15);
/// Messages that wait to be shown; with more the broker waits.
const WAITING: usize = 256;
/// The longest packet that is heard or sent, in bytes.
const LONGEST_PACKET: usize = 1 << 20;
/// Between two attempts to come back.
const RETRY_AFTER: Duration = Duration::from_secs(1);
/// Where Debian keeps the authorities that the system trusts.
const SYSTEM_AUTHORITIES: &str = "/etc/ssl/certs/ca-certificates.crt";

/// A message from the broker.
#[derive(Debug)]
pub(super) struct Heard {
    /// The topic.
    pub(super) topic: String,
    /// The payload.
    pub(super) payload: Vec<u8>,
}

/// The client, listening.
#[derive(Debug)]
pub(super) struct Phone {
    client: AsyncClient,
    heard: mpsc::Receiver<Heard>,
    task: JoinHandle<()>,
}

impl Phone {
    /// Connects and subscribes to `filter`; listens when this returns.
    ///
    /// # Errors
    /// With what is wrong at that broker.
    pub(super) async fn listen(broker: &MqttConfig, filter: &str) -> Result<Self, String> {
        let (client, mut eventloop) = AsyncClient::new(options(broker)?, 16);
        eventloop.network_options.set_connection_timeout(PATIENCE.as_secs());
        let place = format!("{}:{}", broker.host, broker.port);
        let listening = subscribed(&client, &mut eventloop, filter);
        match tokio::time::timeout(PATIENCE, listening).await {
            Ok(Ok(())) => {}
            Ok(Err(why)) => return Err(format!("listening at the broker {place} failed: {why}")),
            Err(_) => return Err(format!("the broker {place} did not let us listen in time")),
        }
        let (sender, heard) = mpsc::channel(WAITING);
        let task = tokio::spawn(attend(client.clone(), eventloop, filter.to_owned(), sender));
        Ok(Self { client, heard, task })
    }

    /// The next message; `None` when the client has ended.
    pub(super) async fn next(&mut self) -> Option<Heard> {
        self.heard.recv().await
    }

    /// Publishes at QoS 1.
    ///
    /// # Errors
    /// When the client has ended.
    pub(super) async fn publish(&self, topic: String, payload: String, retain: bool) -> Result<(), String> {
        let sent = self.client.publish(topic, QoS::AtLeastOnce, retain, payload).await;
        sent.map_err(|error| format!("nothing can be published any more: {error}"))
    }

    /// Takes the retained messages of these topics off the broker, and waits until it has heard of it.
    pub(super) async fn clear(&mut self, topics: Vec<String>) {
        let Some(last) = topics.last().cloned() else { return };
        for topic in topics {
            if self.publish(topic, String::new(), true).await.is_err() {
                return;
            }
        }
        let heard = async {
            while let Some(message) = self.next().await {
                if message.topic == last && message.payload.is_empty() {
                    break;
                }
            }
        };
        let _ = tokio::time::timeout(PATIENCE, heard).await;
    }

    /// Says goodbye to the broker.
    pub(super) async fn leave(self) {
        let Self { client, heard, task } = self;
        let _ = client.disconnect().await;
        drop(heard);
        let _ = tokio::time::timeout(RETRY_AFTER, task).await;
    }
}

fn options(broker: &MqttConfig) -> Result<MqttOptions, String> {
    let id = format!("rehearsal-{}", std::process::id());
    let mut options = MqttOptions::new(id, &broker.host, broker.port);
    options.set_keep_alive(Duration::from_secs(20)).set_max_packet_size(LONGEST_PACKET, LONGEST_PACKET);
    if let Some(username) = &broker.username {
        let password = match &broker.password_file {
            Some(path) => fs::read_to_string(path)
                .map_err(|error| format!("the password cannot be read from {}: {error}", path.display()))?,
            None => String::new(),
        };
        options.set_credentials(username, password.trim_end_matches(['\r', '\n']));
    }
    if let Some(tls) = &broker.tls {
        // an error says that there is one already
        let _ = ring::default_provider().install_default();
        let path = tls.ca_file.clone().unwrap_or_else(|| SYSTEM_AUTHORITIES.into());
        let ca = fs::read(&path).map_err(|error| {
            format!("the authorities' certificates cannot be read from {}: {error}", path.display())
        })?;
        options.set_transport(Transport::Tls(TlsConfiguration::Simple { ca, alpn: None, client_auth: None }));
    }
    Ok(options)
}

async fn subscribed(client: &AsyncClient, eventloop: &mut EventLoop, filter: &str) -> Result<(), String> {
    client.subscribe(filter, QoS::AtLeastOnce).await.map_err(|error| error.to_string())?;
    loop {
        match eventloop.poll().await {
            Ok(Event::Incoming(Incoming::SubAck(answer))) => {
                return match answer.return_codes.first() {
                    Some(SubscribeReasonCode::Success(_)) => Ok(()),
                    _ => Err(format!(
                        "it does not let us listen to {filter}: let the user read and write there"
                    )),
                };
            }
            Ok(_) => {}
            Err(error) => return Err(error.to_string()),
        }
    }
}

/// Hands on what comes, until nobody listens; comes back when the connection breaks.
async fn attend(client: AsyncClient, mut eventloop: EventLoop, filter: String, heard: mpsc::Sender<Heard>) {
    loop {
        match eventloop.poll().await {
            Ok(Event::Incoming(Incoming::Publish(message))) => {
                let message = Heard { topic: message.topic, payload: message.payload.to_vec() };
                if heard.send(message).await.is_err() && client.try_disconnect().is_err() {
                    return;
                }
            }
            Ok(Event::Incoming(Incoming::ConnAck(_))) => {
                let _ = client.try_subscribe(filter.as_str(), QoS::AtLeastOnce);
            }
            Ok(Event::Outgoing(rumqttc::Outgoing::Disconnect)) | Err(ConnectionError::RequestsDone) => return,
            Ok(_) => {}
            Err(_) if heard.is_closed() => return,
            Err(_) => tokio::time::sleep(RETRY_AFTER).await,
        }
    }
}
