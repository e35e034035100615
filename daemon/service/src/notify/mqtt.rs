//! The broker as configured: how to connect to it, and what its troubles mean to a person.

use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::time::Duration;

use rumqttc::tokio_rustls::rustls;
use rumqttc::{
    ConnAck, ConnectReturnCode, ConnectionError, LastWill, Packet, QoS, StateError, TlsError, mqttbytes,
};
use serde_json::json;

use super::pace::Pace;
use super::tls;
use super::topics::Topics;
use super::wire::{Call, KEEP_ALIVE, Wire};
use crate::config::{MqttConfig, TlsConfig};

/// The longest payload that is published, in bytes.
pub(super) const MAX_OUTGOING: usize = 1 << 20;
/// The longest password that MQTT can carry, in bytes (MQTT 3.1.1, section 3.1.3.5).
const MAX_PASSWORD: u64 = 65_535;
/// Who we are where no client id is given: an empty one keeps no session, and names nobody in the broker's log.
const NAMELESS: &str = "anthesisd";

/// Whose signature on the broker's certificate counts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Authorities {
    /// Those that the system trusts, from Debian's `/etc/ssl/certs/ca-certificates.crt`.
    System,
    /// Those in a PEM file.
    File(PathBuf),
}

impl Authorities {
    fn file(&self) -> &Path {
        match self {
            Self::System => Path::new(tls::SYSTEM_AUTHORITIES),
            Self::File(path) => path,
        }
    }
}

/// The broker, and who we are to it.
#[derive(Debug, Clone)]
pub struct PublisherSpec {
    /// Its name or address.
    pub host: String,
    /// Its TCP port.
    pub port: u16,
    /// Whose signature counts, where the connection is by TLS. The file is read anew at each connection.
    pub tls: Option<Authorities>,
    /// The name to log in by.
    pub username: Option<String>,
    /// The file with the password, read anew at each connection.
    pub password_file: Option<PathBuf>,
    /// What the broker knows us by. Two clients of the same id cut each other off.
    pub client_id: String,
    /// The topic of the last will and of the goodbye.
    pub will_topic: String,
    /// Their payload.
    pub down_payload: String,
    /// Topics to listen to, asked for after every connection.
    pub subscriptions: Vec<String>,
    /// The topic on which `check` and the service speak to themselves.
    pub check_topic: String,
    /// Whether the broker keeps for us what is published while no connection stands (MQTT 3.1.1, section 3.1.2.4).
    pub keep_session: bool,
}

impl PublisherSpec {
    /// As configured, saying `down_payload` when the service is gone.
    pub fn new(config: &MqttConfig, topics: &Topics, down_payload: String) -> Self {
        let authorities =
            |tls: &TlsConfig| tls.ca_file.clone().map_or(Authorities::System, Authorities::File);
        Self {
            host: config.host.clone(),
            port: config.port,
            tls: config.tls.as_ref().map(authorities),
            username: config.username.clone(),
            password_file: config.password_file.clone(),
            client_id: config.client_id.clone(),
            will_topic: topics.daemon(),
            down_payload,
            subscriptions: topics.subscriptions(),
            check_topic: topics.check(),
            keep_session: true,
        }
    }
}

/// Connects to the broker, logs in, says something, hears it and leaves, under an id of its own so that a running service is not cut off.
///
/// It must hear itself, for by MQTT 3.1.1 a broker acknowledges what its rules do not let pass (section 3.3.5), and nobody would hear an alarm.
///
/// # Errors
/// With a sentence for the person: what is wrong, and what to do.
pub async fn try_broker(spec: &PublisherSpec, timeout: Duration) -> Result<(), String> {
    deliver(spec, &[], timeout).await
}

/// The same, and then says these messages, each on its topic, and waits until the broker has acknowledged them.
///
/// # Errors
/// As [`try_broker`].
pub async fn deliver(
    spec: &PublisherSpec,
    messages: &[(String, String)],
    timeout: Duration,
) -> Result<(), String> {
    let visitor = PublisherSpec { client_id: format!("{}-check", spec.client_id), ..spec.clone() };
    let (topic, said) = (&spec.check_topic, json!({ "check": std::process::id() }).to_string());
    let (mut is_in, mut has_spoken, mut is_heard, mut taken) = (false, false, false, 0);
    let visit = async {
        let pace = Pace { connect: timeout, ..Pace::default() };
        let (mut wire, _) = open(&visitor, &pace, None, false).await?;
        is_in = true;
        wire.subscribe([topic]).map_err(|error| words(&error.into(), spec))?;
        loop {
            match wire.next().await {
                Ok(Packet::SubAck(_)) => {
                    has_spoken = true;
                    let spoken = wire.publish(topic.clone(), said.clone(), QoS::AtLeastOnce, false);
                    spoken.map_err(|error| words(&error.into(), spec))?;
                }
                Ok(Packet::Publish(heard)) if heard.payload == said.as_bytes() && !is_heard => {
                    is_heard = true;
                    for (topic, message) in messages {
                        let spoken = wire.publish(topic.clone(), message.clone(), QoS::AtLeastOnce, false);
                        spoken.map_err(|error| words(&error.into(), spec))?;
                    }
                }
                Ok(Packet::PubAck(_)) => taken += 1,
                Ok(_) => {}
                // some brokers cut the connection over what their rules forbid
                Err(_) if has_spoken => return Err(unheard(spec)),
                Err(error) => return Err(words(&error, spec)),
            }
            // what was said to be heard is acknowledged, too
            if is_heard && (messages.is_empty() || taken > messages.len()) {
                wire.leave().await;
                return Ok(());
            }
        }
    };
    match tokio::time::timeout(timeout, visit).await {
        Ok(outcome) => outcome,
        Err(_) if is_heard => Err(format!(
            "the broker at {}:{} has not acknowledged the message: look into the broker's log",
            spec.host, spec.port
        )),
        Err(_) if is_in => Err(unheard(spec)),
        Err(_) => Err(no_answer(spec)),
    }
}

/// One connection, with the files read as they are now; with `keep_session` the broker is to know us again.
pub(super) async fn open(
    spec: &PublisherSpec,
    pace: &Pace,
    will: Option<LastWill>,
    keep_session: bool,
) -> Result<(Wire, ConnAck), String> {
    let (username, password_file) = (spec.username.clone(), spec.password_file.clone());
    let authorities = spec.tls.clone();
    let read = move || -> Result<_, String> {
        let password = password_file.as_deref().map(secret).transpose()?.unwrap_or_default();
        let tls = authorities.map(|authorities| tls::client_config(authorities.file())).transpose()?;
        Ok((username.map(|username| (username, password)), tls))
    };
    let (login, tls) = tokio::task::spawn_blocking(read)
        .await
        .map_err(|error| format!("files cannot be read: {error}"))??;
    let call = Call {
        host: &spec.host,
        port: spec.port,
        tls,
        client_id: if spec.client_id.is_empty() { NAMELESS } else { &spec.client_id },
        login,
        will,
        keep_session,
        patience: pace.connect,
        longest: MAX_OUTGOING,
    };
    Wire::connect(call).await.map_err(|error| words(&error, spec))
}

/// The last will, and the goodbye.
pub(super) fn down(spec: &PublisherSpec) -> LastWill {
    LastWill::new(&spec.will_topic, spec.down_payload.as_str(), QoS::AtLeastOnce, true)
}

fn secret(path: &Path) -> Result<String, String> {
    let shown = path.display();
    let mut text = String::new();
    File::open(path)
        .and_then(|file| file.take(MAX_PASSWORD + 2).read_to_string(&mut text))
        .map_err(|error| format!("the broker's password cannot be read from {shown}: {error}"))?;
    let password = text.trim_end_matches(['\r', '\n']);
    if password.is_empty() {
        Err(format!("{shown} is empty: write the broker's password into it, as one line"))
    } else if password.len() as u64 > MAX_PASSWORD {
        Err(format!("{shown} is longer than an MQTT password can be: is it the right file?"))
    } else {
        Ok(password.to_owned())
    }
}

/// What happened, where, and what to do.
pub(super) fn words(error: &ConnectionError, spec: &PublisherSpec) -> String {
    let place = format!("{}:{}", spec.host, spec.port);
    match error {
        ConnectionError::ConnectionRefused(
            ConnectReturnCode::BadUserNamePassword | ConnectReturnCode::NotAuthorized,
        ) => match (&spec.username, &spec.password_file) {
            (Some(username), Some(file)) => format!(
                "the broker at {place} refused user {username:?} with the password in {}: correct `username` or the \
                 file, which is read anew at each attempt, or let the broker know that user",
                file.display()
            ),
            _ => format!(
                "the broker at {place} wants a user and password: set `username` and `password_file` in [mqtt]"
            ),
        },
        ConnectionError::ConnectionRefused(ConnectReturnCode::BadClientId) => {
            format!("the broker at {place} refused the client id {:?}: set another in [mqtt]", spec.client_id)
        }
        ConnectionError::ConnectionRefused(code) => {
            format!("the broker at {place} refused the connection ({code:?}): look into the broker's log")
        }
        ConnectionError::NetworkTimeout | ConnectionError::FlushTimeout => no_answer(spec),
        ConnectionError::Tls(error) => tls_words(error, &place, spec),
        ConnectionError::Io(error) => {
            format!("the broker at {place} cannot be reached ({error}): is it running, is the address right?")
        }
        ConnectionError::MqttState(StateError::AwaitPingResp) => {
            format!(
                "the broker at {place} gave no sign of life for {} s: is the network there?",
                KEEP_ALIVE.as_secs()
            )
        }
        ConnectionError::MqttState(
            StateError::ConnectionAborted
            | StateError::Io(_)
            | StateError::Deserialization(mqttbytes::Error::Io(_)),
        ) => format!(
            "the broker at {place} closed the connection: did it stop, does it want TLS (`mqtts://`), or does another \
             client use the id {:?}?",
            spec.client_id
        ),
        other => format!("the connection to the broker at {place} broke: {other}"),
    }
}

fn no_answer(spec: &PublisherSpec) -> String {
    format!(
        "no answer from {}:{}: is it the broker's address, is the broker running, does a firewall stand between?",
        spec.host, spec.port
    )
}

fn unheard(spec: &PublisherSpec) -> String {
    let (host, port, topic) = (&spec.host, spec.port, &spec.check_topic);
    let all = topic.strip_suffix("check").unwrap_or(topic);
    let user = spec.username.as_deref().unwrap_or("everybody");
    format!(
        "the broker at {host}:{port} lets us in and does not pass on what we say: nobody would hear an alarm. Let {user:?} write \
         {all}# and read {topic} in the broker's access rules"
    )
}

fn tls_words(error: &TlsError, place: &str, spec: &PublisherSpec) -> String {
    use rustls::CertificateError as Why;
    let inner = match error {
        TlsError::Io(io) => io.get_ref().and_then(|inner| inner.downcast_ref::<rustls::Error>()),
        TlsError::TLS(error) => Some(error),
        _ => None,
    };
    let authorities = spec.tls.as_ref().map(|tls| tls.file().display().to_string()).unwrap_or_default();
    let Some(rustls::Error::InvalidCertificate(why)) = inner else {
        return format!("no TLS with the broker at {place} ({error}): is this its TLS port?");
    };
    let what = match why {
        // a bad signature is what an authority of the same name with another key comes to
        Why::UnknownIssuer | Why::BadSignature => format!(
            "is signed by none of the authorities in {authorities}: name the file with the broker's authority as \
             `ca_file` in [mqtt]"
        ),
        Why::NotValidForName | Why::NotValidForNameContext { .. } => {
            "is made out to another name: write the name in the certificate as `broker` in [mqtt]".to_owned()
        }
        Why::Expired | Why::ExpiredContext { .. } | Why::NotValidYet | Why::NotValidYetContext { .. } => {
            format!("is out of its time ({why}): look at this machine's clock, then renew the certificate")
        }
        other => format!("cannot be trusted ({other}): look into how it was made"),
    };
    format!("the certificate of the broker at {place} {what}")
}

#[cfg(test)]
mod tests {
    use std::io::Write;

    use super::*;

    #[test]
    fn a_password_is_the_files_one_line() {
        let mut file = tempfile::NamedTempFile::new().unwrap();
        assert!(secret(file.path()).unwrap_err().contains("is empty"));
        file.write_all(b" a b \r\n").unwrap();
        assert_eq!(secret(file.path()).as_deref(), Ok(" a b "));
        file.write_all(&[b'x'; 70_000]).unwrap();
        assert!(secret(file.path()).unwrap_err().contains("longer than"));
        assert!(secret(Path::new("/nowhere/password")).unwrap_err().contains("/nowhere/password"));
    }
}
