//! A server that takes lines as InfluxDB 2 does, as far as its documentation tells: it keeps what it was sent before it answers
//! 204, one value by series, field and time, and can be killed at any moment without losing what it kept.
#![expect(clippy::expect_used, reason = "it serves tests only: what it cannot do fails them, with the cause")]

use std::collections::BTreeMap;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{Ipv4Addr, Shutdown, TcpListener, TcpStream};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::thread::{self, JoinHandle};

/// The token that it lets in, and the bucket and organization that it knows.
pub const TOKEN: &str = "zostera-marina";
/// The bucket.
pub const BUCKET: &str = "benches";
/// The organization.
pub const ORGANIZATION: &str = "glasshouse";

/// Series (measurement and tags as they were written), field, time in milliseconds.
pub type Key = (String, String, i64);

/// What it does with a request that is right.
#[derive(Debug, Clone, Copy)]
pub enum Manner {
    /// Keeps it, and answers 204.
    Keeps,
    /// Keeps nothing, and answers this status.
    Answers(u16),
    /// Takes no line with this in it: keeps the others (or nothing, where the second is false) and answers 400.
    Refuses(&'static str, bool),
    /// Takes at most so many lines in a request: keeps nothing of more, and answers 413.
    AtMost(usize),
    /// Breaks off every second request: in turn before it is kept, and after it is kept and before it is answered.
    BreaksOff,
}

#[derive(Debug)]
struct State {
    manner: Manner,
    /// After so many requests it goes back to keeping.
    left: u64,
    kept: BTreeMap<Key, String>,
    bodies: Vec<String>,
    requests: u64,
    open: Vec<TcpStream>,
    alive: bool,
}

/// The server.
#[derive(Debug)]
pub struct KeyedServer {
    port: u16,
    state: Arc<Mutex<State>>,
    listening: Mutex<Option<JoinHandle<()>>>,
}

impl KeyedServer {
    /// One on a loopback port of its own.
    ///
    /// # Panics
    /// When there is no port.
    pub fn start() -> Self {
        let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).expect("a free port");
        let state = State {
            manner: Manner::Keeps,
            left: u64::MAX,
            kept: BTreeMap::new(),
            bodies: Vec::new(),
            requests: 0,
            open: Vec::new(),
            alive: true,
        };
        let server = Self {
            port: listener.local_addr().expect("a port").port(),
            state: Arc::new(Mutex::new(state)),
            listening: Mutex::new(None),
        };
        server.serve(listener);
        server
    }

    fn serve(&self, listener: TcpListener) {
        let state = Arc::clone(&self.state);
        let listening = thread::spawn(move || {
            for stream in listener.incoming() {
                let Ok(stream) = stream else { continue };
                let mut now = lock(&state);
                if !now.alive {
                    return;
                }
                now.open.extend(stream.try_clone());
                drop(now);
                let state = Arc::clone(&state);
                thread::spawn(move || {
                    while answer(&stream, &state).is_some() {}
                    // kept above as well, so that dropping it would not close it
                    let _ = stream.shutdown(Shutdown::Both);
                });
            }
        });
        *self.listening.lock().unwrap_or_else(PoisonError::into_inner) = Some(listening);
    }

    /// Its port on 127.0.0.1.
    pub const fn port(&self) -> u16 {
        self.port
    }

    /// Its address.
    pub fn url(&self) -> String {
        format!("http://127.0.0.1:{}", self.port)
    }

    /// How it behaves from now on.
    pub fn behave(&self, manner: Manner) {
        self.behave_for(u64::MAX, manner);
    }

    /// How it behaves for so many requests; then it keeps them again.
    pub fn behave_for(&self, requests: u64, manner: Manner) {
        let mut state = lock(&self.state);
        (state.manner, state.left) = (manner, requests);
    }

    /// Breaks off everything and takes no connection more; what it kept it keeps.
    pub fn kill(&self) {
        let mut state = lock(&self.state);
        state.alive = false;
        for stream in state.open.drain(..) {
            let _ = stream.shutdown(Shutdown::Both);
        }
        drop(state);
        // the listener waits for one connection more before it looks
        let _ = TcpStream::connect((Ipv4Addr::LOCALHOST, self.port));
        // the port is free when it has gone
        if let Some(listening) = self.listening.lock().unwrap_or_else(PoisonError::into_inner).take() {
            let _ = listening.join();
        }
    }

    /// Serves again, on the same port.
    ///
    /// # Panics
    /// When somebody else has taken the port.
    pub fn restart(&self) {
        let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, self.port)).expect("its old port");
        lock(&self.state).alive = true;
        self.serve(listener);
    }

    /// All that it keeps.
    pub fn kept(&self) -> BTreeMap<Key, String> {
        lock(&self.state).kept.clone()
    }

    /// Requests that came so far.
    pub fn requests(&self) -> u64 {
        lock(&self.state).requests
    }

    /// Every body that was kept whole.
    pub fn bodies(&self) -> Vec<String> {
        lock(&self.state).bodies.clone()
    }
}

impl Drop for KeyedServer {
    fn drop(&mut self) {
        self.kill();
    }
}

fn lock(state: &Mutex<State>) -> MutexGuard<'_, State> {
    state.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Answers one request; `None` when the connection is to be closed.
fn answer(stream: &TcpStream, state: &Mutex<State>) -> Option<()> {
    let mut from = BufReader::new(stream);
    let (target, headers) = head(&mut from)?;
    let body = body(&mut from, &headers)?;
    let mut now = lock(state);
    if !now.alive {
        return None;
    }
    now.requests += 1;
    if now.left == 0 {
        now.manner = Manner::Keeps;
    }
    now.left = now.left.saturating_sub(1);
    let lines: Vec<&str> = body.lines().filter(|line| !line.starts_with('#')).collect();
    let (path, query) = target.split_once('?').unwrap_or((&target, ""));
    let wanted = format!("bucket={BUCKET}&org={ORGANIZATION}&precision=ms");
    let let_in = headers.get("authorization").is_some_and(|said| *said == format!("Token {TOKEN}"));
    let status = match now.manner {
        _ if path != "/api/v2/write" || query != wanted => 404,
        _ if !let_in => 401,
        Manner::Answers(status) => status,
        Manner::AtMost(most) if lines.len() > most => 413,
        Manner::BreaksOff if now.requests % 4 == 1 => return None,
        Manner::Refuses(what, others) if lines.iter().any(|line| line.contains(what)) => {
            if others {
                for line in lines.iter().filter(|line| !line.contains(what)) {
                    keep(&mut now.kept, line)?;
                }
            }
            400
        }
        manner => {
            for line in &lines {
                if keep(&mut now.kept, line).is_none() {
                    drop(now);
                    return reply(stream, 400);
                }
            }
            now.bodies.push(body.clone());
            if matches!(manner, Manner::BreaksOff) && now.requests % 4 == 3 {
                return None;
            }
            204
        }
    };
    drop(now);
    reply(stream, status)
}

fn reply(mut stream: &TcpStream, status: u16) -> Option<()> {
    let answer = match status {
        204 => "HTTP/1.1 204 No Content\r\n\r\n".to_owned(),
        other => format!("HTTP/1.1 {other} Said\r\nContent-Length: 11\r\n\r\nit is wrong"),
    };
    stream.write_all(answer.as_bytes()).ok()
}

/// The request's target and its headers, names in lower case.
fn head(from: &mut impl BufRead) -> Option<(String, BTreeMap<String, String>)> {
    let mut line = String::new();
    from.read_line(&mut line).ok().filter(|bytes| *bytes > 0)?;
    let target = line.split(' ').nth(1)?.to_owned();
    let mut headers = BTreeMap::new();
    loop {
        line.clear();
        from.read_line(&mut line).ok().filter(|bytes| *bytes > 0)?;
        let Some((name, value)) = line.trim_end().split_once(':') else { return Some((target, headers)) };
        headers.insert(name.to_ascii_lowercase(), value.trim().to_owned());
    }
}

/// The body, out of its chunks (RFC 9112, section 7.1) and its compression.
fn body(from: &mut impl BufRead, headers: &BTreeMap<String, String>) -> Option<String> {
    let mut bytes = Vec::new();
    if let Some(length) = headers.get("content-length") {
        bytes.resize(length.parse().ok()?, 0);
        from.read_exact(&mut bytes).ok()?;
    } else {
        loop {
            let mut line = String::new();
            from.read_line(&mut line).ok().filter(|bytes| *bytes > 0)?;
            let size = usize::from_str_radix(line.trim_end(), 16).ok()?;
            let mut chunk = vec![0; size + 2];
            from.read_exact(&mut chunk).ok()?;
            if size == 0 {
                break;
            }
            bytes.extend_from_slice(&chunk[..size]);
        }
    }
    let mut text = String::new();
    match headers.get("content-encoding").map(String::as_str) {
        Some("gzip") => flate2::read::MultiGzDecoder::new(&bytes[..]).read_to_string(&mut text).ok()?,
        Some(_) => return None,
        None => (&bytes[..]).read_to_string(&mut text).ok()?,
    };
    Some(text)
}

/// Keeps one line of one field; `None` if it is none.
fn keep(kept: &mut BTreeMap<Key, String>, line: &str) -> Option<()> {
    let (series, rest) = split_plain(line, ' ')?;
    let (field, rest) = split_plain(rest, '=')?;
    let (value, time) = rest.rsplit_once(' ')?;
    let is_text = value.len() > 1 && value.starts_with('"') && value.ends_with('"');
    if !is_text && !value.parse::<f64>().is_ok_and(f64::is_finite) {
        return None;
    }
    kept.insert((series.to_owned(), field.to_owned(), time.parse().ok()?), value.to_owned());
    Some(())
}

/// Splits at the first `at` that no backslash precedes.
fn split_plain(text: &str, at: char) -> Option<(&str, &str)> {
    let mut places = text.match_indices(at).map(|(place, _)| place);
    let place = places.find(|place| !text[..*place].ends_with('\\'))?;
    Some((&text[..place], &text[place + at.len_utf8()..]))
}
