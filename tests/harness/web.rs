//! The page as a program on the network sees it: requests written out by hand, so that each header is as the check says.

use std::io::{self, Read, Write};
use std::net::{Ipv4Addr, SocketAddr, TcpStream};

use crate::mosquitto::PATIENCE;
use crate::service::Service;

/// An answer.
#[derive(Debug)]
pub struct Answer {
    /// Its status.
    pub status: u16,
    /// Its head, in small letters.
    pub head: String,
    /// Its body.
    pub body: String,
}

/// Where the page of a service that listens on port 0 is.
///
/// # Panics
/// When it does not say so for long.
pub fn page_of(service: &Service) -> SocketAddr {
    const SAYS: &str = "the page is at http://";
    service.wait_for_log(SAYS);
    let log = service.log();
    let rest = log.rsplit(SAYS).next().unwrap_or_default();
    rest.split('/').next().and_then(|address| address.parse().ok()).expect("an address in the log")
}

/// Asks for something, with these headers beside `Host`.
///
/// # Panics
/// When nobody answers.
pub fn ask(at: SocketAddr, line: &str, headers: &[(&str, &str)], body: &str) -> Answer {
    raw(at, &request(at, line, headers, body))
}

/// The same from another address of this machine, 127.0.0.0/8; `None` where the other side closes before it answers.
///
/// # Panics
/// When nobody listens.
pub fn ask_from(from: Ipv4Addr, at: SocketAddr, line: &str, headers: &[(&str, &str)]) -> Option<Answer> {
    answer_on(connect_from(from, at), &request(at, line, headers, ""))
        .ok()
        .filter(|answer| answer.status != 0)
}

/// A connection from an address of this machine, 127.0.0.0/8.
///
/// # Panics
/// When nobody listens.
pub fn connect_from(from: Ipv4Addr, at: SocketAddr) -> TcpStream {
    let connecting = async {
        let socket = tokio::net::TcpSocket::new_v4()?;
        socket.bind((from, 0).into())?;
        socket.connect(at).await?.into_std()
    };
    let runtime = tokio::runtime::Builder::new_current_thread().enable_io().build().expect("a runtime");
    let stream = runtime.block_on(connecting).expect("somebody listens");
    stream.set_nonblocking(false).expect("a socket can wait");
    stream.set_read_timeout(Some(PATIENCE)).expect("a timeout can be set");
    stream
}

fn request(at: SocketAddr, line: &str, headers: &[(&str, &str)], body: &str) -> String {
    let mut request = format!("{line} HTTP/1.1\r\nConnection: close\r\n");
    if !headers.iter().any(|(name, _)| name.eq_ignore_ascii_case("host")) {
        request.push_str(&format!("Host: {at}\r\n"));
    }
    for (name, value) in headers {
        request.push_str(&format!("{name}: {value}\r\n"));
    }
    if !body.is_empty() {
        request.push_str(&format!(
            "Content-Type: application/x-www-form-urlencoded\r\nContent-Length: {}\r\n",
            body.len()
        ));
    }
    format!("{request}\r\n{body}")
}

/// Sends bytes as they are, and reads the answer to its end.
///
/// # Panics
/// When nobody answers.
pub fn raw(at: SocketAddr, request: &str) -> Answer {
    let stream = TcpStream::connect(at).expect("somebody listens");
    stream.set_read_timeout(Some(PATIENCE)).expect("a timeout can be set");
    answer_on(stream, request).expect("an answer")
}

fn answer_on(mut stream: TcpStream, request: &str) -> io::Result<Answer> {
    stream.write_all(request.as_bytes())?;
    let (mut answer, mut piece) = (Vec::new(), [0; 4096]);
    while !is_whole(&answer) {
        match stream.read(&mut piece)? {
            0 => break,
            read => answer.extend_from_slice(&piece[..read]),
        }
    }
    let answer = String::from_utf8_lossy(&answer).into_owned();
    let (head, body) = answer.split_once("\r\n\r\n").unwrap_or((&answer, ""));
    let status = head.split_whitespace().nth(1).and_then(|status| status.parse().ok()).unwrap_or(0);
    Ok(Answer { status, head: head.to_ascii_lowercase(), body: body.to_owned() })
}

/// Whether an answer that says its length has come to its end; one that does not ends with the connection.
fn is_whole(answer: &[u8]) -> bool {
    let text = String::from_utf8_lossy(answer).to_ascii_lowercase();
    let Some((head, _)) = text.split_once("\r\n\r\n") else { return false };
    let length =
        head.split("\r\ncontent-length:").nth(1).and_then(|rest| rest.lines().next()?.trim().parse().ok());
    length.is_some_and(|length: usize| answer.len() >= head.len() + 4 + length)
}
