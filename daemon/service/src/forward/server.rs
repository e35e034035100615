//! The server: one request, and what its answer means.

use std::error::Error;
use std::fs;
use std::io;
use std::path::Path;
use std::time::Duration;

use futures_util::stream;
use influxdb2::api::write::TimestampPrecision;
use influxdb2::models::WriteDataPoint;
use influxdb2::{Client, ClientBuilder, RequestError};
use reqwest::StatusCode;
use reqwest::redirect::Policy;

use super::ForwarderSpec;
use crate::notify::Pace;

/// The longest token that is read, in bytes; InfluxDB's own have 88.
const MAX_TOKEN: usize = 4096;
/// Of a server's words, so many characters go to the log.
const WORDS: usize = 300;

/// What became of a request.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Answer {
    /// The server has taken it.
    Taken,
    /// The server found fault with at least one of its lines.
    Unfit(String),
    /// It was too long for the server.
    TooLong(String),
    /// The server could not be reached, or cannot take anything for now.
    Away(String),
}

/// One server, and the client for the token as last read.
pub(super) struct Server {
    client: Option<(String, Client)>,
}

impl Server {
    pub(super) const fn new() -> Self {
        Self { client: None }
    }

    /// Sends lines in one request.
    pub(super) async fn write(&mut self, spec: &ForwarderSpec, lines: String) -> Answer {
        let client = match self.client(spec) {
            Ok(client) => client,
            Err(why) => return Answer::Away(why),
        };
        // a stream of one item: the library writes a stream of points one by one, which takes twenty times as long
        let body = stream::iter([Lines(lines)]);
        let outcome = client.write_with_precision(&spec.bucket, body, TimestampPrecision::Milliseconds).await;
        match outcome {
            Ok(()) => Answer::Taken,
            Err(error) => answer_of(&error, spec),
        }
    }

    fn client(&mut self, spec: &ForwarderSpec) -> Result<&Client, String> {
        let token = token(&spec.token_file)?;
        if self.client.as_ref().is_none_or(|(before, _)| *before != token) {
            self.client = None;
        }
        let (_, client) = match self.client.take() {
            Some(client) => self.client.insert(client),
            None => {
                let client = build(spec, &token, &spec.pace)?;
                self.client.insert((token, client))
            }
        };
        Ok(client)
    }
}

/// Everything of a request at once.
struct Lines(String);

impl WriteDataPoint for Lines {
    fn write_data_point_to<W: io::Write>(&self, mut to: W) -> io::Result<()> {
        to.write_all(self.0.as_bytes())
    }
}

fn build(spec: &ForwarderSpec, token: &str, pace: &Pace) -> Result<Client, String> {
    // the library panics on an address that it cannot read
    reqwest::Url::parse(&spec.url).map_err(|error| format!("{} is no address: {error}", spec.url))?;
    let http = reqwest::ClientBuilder::new()
        .connect_timeout(pace.connect)
        .timeout(pace.acknowledged)
        .redirect(Policy::none())
        .no_proxy()
        .user_agent(concat!("anthesisd/", env!("CARGO_PKG_VERSION")));
    ClientBuilder::with_builder(http, &spec.url, &spec.organization, token)
        .gzip(true)
        .build()
        .map_err(|error| format!("no connection to {} can be set up: {}", spec.url, causes(&error)))
}

/// The token, as it stands in its file now.
fn token(path: &Path) -> Result<String, String> {
    let shown = path.display();
    let text = fs::read_to_string(path)
        .map_err(|error| format!("the token cannot be read from {shown}: {error}"))?;
    let token = text.trim();
    if token.is_empty() || token.len() > MAX_TOKEN || !token.bytes().all(|byte| byte.is_ascii_graphic()) {
        return Err(format!("{shown} holds no token: write it there, as one line of letters and signs"));
    }
    Ok(token.to_owned())
}

fn answer_of(error: &RequestError, spec: &ForwarderSpec) -> Answer {
    let url = &spec.url;
    let RequestError::Http { status, text } = error else {
        return Answer::Away(format!("{url} cannot be reached: {}", causes(error)));
    };
    let words: String = text.trim().replace(char::is_control, " ").chars().take(WORDS).collect();
    let said = if words.is_empty() { format!("{status}") } else { format!("{status}: {words}") };
    match *status {
        StatusCode::BAD_REQUEST | StatusCode::UNPROCESSABLE_ENTITY => Answer::Unfit(said),
        StatusCode::PAYLOAD_TOO_LARGE => Answer::TooLong(said),
        StatusCode::UNAUTHORIZED | StatusCode::FORBIDDEN => Answer::Away(format!(
            "{url} refuses us ({said}): put a token that may write to bucket {:?} into {}",
            spec.bucket,
            spec.token_file.display()
        )),
        StatusCode::NOT_FOUND => Answer::Away(format!(
            "{url} knows no bucket {:?} of organization {:?}, or is no InfluxDB 2 ({said}): make the bucket, or \
             correct [readings_to]",
            spec.bucket, spec.organization
        )),
        status if status.is_redirection() || status.is_success() || status.is_client_error() => {
            Answer::Away(format!(
                "{url} does not answer as InfluxDB 2 does ({said}): correct `database` under [readings_to]"
            ))
        }
        _ => Answer::Away(format!("{url} is in trouble ({said})")),
    }
}

/// An error with all that caused it, for the library's own words end where the system's begin.
fn causes(error: &dyn Error) -> String {
    let mut said = error.to_string();
    let mut cause = error.source();
    while let Some(error) = cause {
        let words = error.to_string();
        if !said.contains(&words) {
            said.push_str(": ");
            said.push_str(&words);
        }
        cause = error.source();
    }
    said
}

/// Whether the server lets us write: a request of one comment and no line.
///
/// # Errors
/// With a sentence for the person: what is wrong, and what to do.
pub async fn try_server(spec: &ForwarderSpec, timeout: Duration) -> Result<(), String> {
    let mut hurried = spec.clone();
    hurried.pace.connect = timeout;
    hurried.pace.acknowledged = timeout;
    match Server::new().write(&hurried, "# anthesisd check\n".to_owned()).await {
        // who looks for lines has let us in, whether or not it minds that there are none
        Answer::Taken | Answer::Unfit(_) => Ok(()),
        Answer::TooLong(why) | Answer::Away(why) => Err(why),
    }
}
