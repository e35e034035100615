//! `[mqtt]`, `[page]` and `[readings_to]`: where the service connects to and where it listens.

use std::net::{Ipv4Addr, SocketAddr};
use std::path::PathBuf;

use http::Uri;
use toml::de::DeValue;

use super::files::Need;
use super::section::Section;
use super::value::{Read, listen, suggestion, text};

/// The broker.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MqttConfig {
    /// Its name or address; an IPv6 address without brackets.
    pub host: String,
    /// Its TCP port; 1883 unless given, 8883 with TLS (the ports that IANA lists for MQTT).
    pub port: u16,
    /// How the connection is kept private, where the address begins with `mqtts://`.
    pub tls: Option<TlsConfig>,
    /// The name to log in by.
    pub username: Option<String>,
    /// The file with the password; never without a name, for MQTT 3.1.1 forbids that ([MQTT-3.1.2-22]).
    pub password_file: Option<PathBuf>,
    /// What every topic begins with; `anthesis` unless set.
    pub prefix: String,
    /// What the broker knows this client by; `anthesisd-SITE` unless set, never empty.
    pub client_id: String,
}

/// The broker's certificate is always checked; there is no switch against it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TlsConfig {
    /// Certificates, in PEM, of the authority that signed the broker's; where absent, the system's authorities count.
    pub ca_file: Option<PathBuf>,
}

/// The page.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PageConfig {
    /// Where it listens; 127.0.0.1:8750 unless set.
    pub listen: SocketAddr,
    /// The file with the hash of the password; never absent where it listens beyond this machine.
    pub password_file: Option<PathBuf>,
    /// Names by which browsers may call it, beside addresses and `localhost`; lower case, without a port.
    pub names: Vec<String>,
}

/// The InfluxDB 2 that gets a copy of every reading.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReadingsToConfig {
    /// The server, `http://HOST:PORT`.
    pub database: String,
    /// The organization that owns the bucket.
    pub organization: String,
    /// The bucket that readings go to.
    pub bucket: String,
    /// The file with the token.
    pub token_file: PathBuf,
}

/// The start of every topic where none is given.
const PREFIX: &str = "anthesis";

/// Reads `[mqtt]`.
pub(super) fn mqtt(section: &mut Section<'_>, site: Option<&str>) -> Option<MqttConfig> {
    let broker = section.required("broker", "\"mqtts://broker.example:8883\"", broker);
    let username = section.optional("username", text);
    let password_file = file(section, "password_file", Need::Secret);
    if password_file.is_some() && !section.has("username") {
        section.fault("password_file", "wants a username beside it, for MQTT knows no password without one");
    }
    let ca_file = file(section, "ca_file", Need::Certificates);
    if ca_file.is_some() && matches!(broker, Some(Broker { tls: false, .. })) {
        section.fault(
            "ca_file",
            "serves TLS only; begin the broker's address with mqtts://, or leave this key out",
        );
    }
    let prefix = section.optional("prefix", topic).unwrap_or_else(|| PREFIX.to_owned());
    let client_id = section.optional("client_id", text);
    let Broker { host, port, tls } = broker?;
    let client_id = match client_id {
        Some(client_id) => client_id,
        None => format!("anthesisd-{}", site?),
    };
    let tls = tls.then_some(TlsConfig { ca_file });
    Some(MqttConfig { host, port, tls, username, password_file, prefix, client_id })
}

/// Reads `[page]`.
pub(super) fn page(section: &mut Section<'_>) -> Option<PageConfig> {
    let usual = SocketAddr::from((Ipv4Addr::LOCALHOST, 8750));
    let listen = section.optional("listen", listen).unwrap_or(usual);
    let password_file = file(section, "password_file", Need::PasswordHash);
    if !listen.ip().is_loopback() && !section.has("password_file") {
        section.fault(
            "listen",
            "is open to the network, where everybody could read and book; add password_file, which \
             `anthesisd page-password` makes, or listen on this machine only: \"127.0.0.1:8750\"",
        );
    }
    let names = section.optional("names", host_names).unwrap_or_default();
    Some(PageConfig { listen, password_file, names })
}

/// Reads `[readings_to]`.
pub(super) fn readings_to(section: &mut Section<'_>) -> Option<ReadingsToConfig> {
    let database = section.required("database", "\"http://127.0.0.1:8086\"", database_address);
    let organization = section.required("organization", "\"glasshouse\"", text);
    let bucket = section.required("bucket", "\"benches\"", text);
    if !section.has("token_file") {
        section
            .fault("token_file", "is missing; add it, such as token_file = \"/etc/anthesisd/influx-token\"");
    }
    let token_file = file(section, "token_file", Need::Secret);
    Some(ReadingsToConfig {
        database: database?,
        organization: organization?,
        bucket: bucket?,
        token_file: token_file?,
    })
}

fn file(section: &mut Section<'_>, key: &'static str, need: Need) -> Option<PathBuf> {
    let name = section.optional(key, text)?;
    let path = section.path_of(&name);
    section.names_file(key, &path, need);
    Some(path)
}

struct Broker {
    host: String,
    port: u16,
    tls: bool,
}

fn broker(value: &DeValue<'_>) -> Read<Broker> {
    const EXAMPLE: &str = "mqtts://broker.example:8883";
    let address = text(value)?;
    let uri = address_of(&address, &["mqtt", "mqtts"], EXAMPLE)?;
    if !matches!(uri.path(), "" | "/") || uri.query().is_some() {
        return Err(format!(
            "ends after the port; topics begin with prefix. Write an address such as {EXAMPLE}"
        ));
    }
    let tls = uri.scheme_str() == Some("mqtts");
    let host = uri.host().unwrap_or_default().trim_matches(['[', ']']).to_owned();
    Ok(Broker { host, port: uri.port_u16().unwrap_or(if tls { 8883 } else { 1883 }), tls })
}

fn database_address(value: &DeValue<'_>) -> Read<String> {
    let address = text(value)?;
    const EXAMPLE: &str = "http://127.0.0.1:8086";
    if address.starts_with("https://") {
        return Err(format!(
            "begins with https://, and this version sends readings without TLS; let a TLS proxy on this machine take it on, \
             and write the proxy's address, such as {EXAMPLE}"
        ));
    }
    let uri = address_of(&address, &["http"], EXAMPLE)?;
    if !matches!(uri.path(), "" | "/") || uri.query().is_some() {
        return Err(format!("ends after the port; the rest is our part. Write an address such as {EXAMPLE}"));
    }
    Ok(address)
}

/// An address with one of some schemes, a host, and no password.
fn address_of(address: &str, schemes: &[&str], example: &str) -> Read<Uri> {
    let uri: Uri =
        address.parse().map_err(|error| format!("is no address ({error}); write one such as {example}"))?;
    let (Some(scheme), Some(authority)) = (uri.scheme_str(), uri.authority()) else {
        return Err(format!("wants a scheme and a host; write an address such as {example}"));
    };
    if !schemes.contains(&scheme) {
        let schemes = schemes.iter().copied();
        return Err(format!("begins with {scheme}://; {}", suggestion(scheme, schemes, "what is served is")));
    }
    if authority.as_str().contains('@') {
        return Err(format!(
            "must hold no name or password, which have keys of their own; write an address such as {example}"
        ));
    }
    let port_is_wrong = !uri.host().unwrap_or_default().is_empty()
        && authority.as_str().len() > uri.host().unwrap_or_default().len()
        && uri.port_u16().is_none_or(|port| port == 0);
    if uri.host().unwrap_or_default().is_empty() || port_is_wrong {
        return Err(format!("wants a host and a port from 1 to 65535; write an address such as {example}"));
    }
    Ok(uri)
}

/// Names of hosts, without a port.
fn host_names(value: &DeValue<'_>) -> Read<Vec<String>> {
    let wanted = || "wants a list of names without a port, such as [\"benches.example\"]".to_owned();
    let names = value.as_array().ok_or_else(wanted)?;
    let name = |name: &str| {
        let fits = |byte: u8| byte.is_ascii_alphanumeric() || matches!(byte, b'-' | b'.');
        (!name.is_empty() && name.bytes().all(fits)).then(|| name.to_ascii_lowercase())
    };
    names.iter().map(|item| item.get_ref().as_str().and_then(name).ok_or_else(wanted)).collect()
}

/// The start of a topic: levels without wildcards (MQTT 3.1.1, section 4.7).
fn topic(value: &DeValue<'_>) -> Read<String> {
    let topic = text(value)?;
    if topic.contains(['+', '#']) || topic.starts_with('$') || topic.split('/').any(str::is_empty) {
        return Err(
            "is no start of a topic: no + or #, no $ in front, no / at either end or twice in a row; \
                    write one such as \"anthesis\""
                .to_owned(),
        );
    }
    Ok(topic)
}
