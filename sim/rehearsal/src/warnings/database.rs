//! A stand-in for the database to which readings are forwarded: it takes every request, or refuses every one.

use std::io::{self, BufRead, BufReader, Read, Write};
use std::net::{Ipv4Addr, TcpListener, TcpStream};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::Duration;

/// A visitor who says nothing for so long is sent away.
const PATIENCE: Duration = Duration::from_secs(10);

/// The stand-in; it serves as long as the process lives.
#[derive(Debug)]
pub(super) struct Database {
    port: u16,
    refuses: Arc<AtomicBool>,
}

impl Database {
    /// Serves on a free loopback port.
    ///
    /// # Errors
    /// When there is none.
    pub(super) fn start() -> io::Result<Self> {
        let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, 0))?;
        let port = listener.local_addr()?.port();
        let refuses = Arc::new(AtomicBool::new(false));
        let refusing = Arc::clone(&refuses);
        thread::Builder::new().name("database".to_owned()).spawn(move || {
            for visitor in listener.incoming().flatten() {
                // one that breaks off is tried again by the service
                let _ = answer(&visitor, &refusing);
            }
        })?;
        Ok(Self { port, refuses })
    }

    /// Where it serves.
    pub(super) const fn port(&self) -> u16 {
        self.port
    }

    /// Whether it refuses, from now on.
    pub(super) fn refuse(&self, whether: bool) {
        self.refuses.store(whether, Ordering::Release);
    }
}

/// Reads one request to its end and answers it (HTTP/1.1, RFC 9112; statuses RFC 9110).
fn answer(visitor: &TcpStream, refuses: &AtomicBool) -> io::Result<()> {
    visitor.set_read_timeout(Some(PATIENCE))?;
    let mut request = BufReader::new(visitor);
    let (mut line, mut length, mut in_chunks) = (String::new(), 0, false);
    loop {
        line.clear();
        if request.read_line(&mut line)? == 0 {
            return Ok(());
        }
        let header = line.trim().to_ascii_lowercase();
        match header.split_once(':') {
            Some(("content-length", value)) => length = value.trim().parse().unwrap_or(0),
            Some(("transfer-encoding", value)) => in_chunks = value.trim() == "chunked",
            _ if header.is_empty() => break,
            _ => {}
        }
    }
    if in_chunks {
        loop {
            line.clear();
            request.read_line(&mut line)?;
            let chunk = u64::from_str_radix(line.trim(), 16).unwrap_or(0);
            // with the line break behind it
            io::copy(&mut request.by_ref().take(chunk + 2), &mut io::sink())?;
            if chunk == 0 {
                break;
            }
        }
    } else {
        io::copy(&mut request.by_ref().take(length), &mut io::sink())?;
    }
    let status = if refuses.load(Ordering::Acquire) { "503 Service Unavailable" } else { "204 No Content" };
    let mut visitor = visitor;
    write!(visitor, "HTTP/1.1 {status}\r\nContent-Length: 0\r\nConnection: close\r\n\r\n")
}
