//! A network between the daemon and its broker that behaves as it is told.

use std::io::{Read, Write};
use std::net::{Ipv4Addr, Shutdown, TcpListener, TcpStream};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread;
use std::time::Duration;

/// How the network behaves.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Manner {
    /// Everything passes.
    Pass,
    /// Connections stand, and nothing passes either way, as behind a firewall that drops.
    Swallow,
    /// What the daemon says passes; what the broker answers is swallowed, so that nobody knows whether it arrived.
    SwallowAnswers,
    /// What the broker answers comes late by so many milliseconds.
    Late(u64),
    /// Connections are closed at once.
    Refuse,
}

/// A proxy on a loopback port of its own.
#[derive(Debug)]
pub struct Proxy {
    port: u16,
    shared: Arc<Mutex<Shared>>,
}

#[derive(Debug)]
struct Shared {
    manner: Manner,
    open: Vec<TcpStream>,
    /// Pieces that have crossed.
    pieces: u64,
    /// The piece that does not, and whether nothing does from then on; otherwise all connections end with it, once.
    breaks: Option<(u64, bool)>,
    is_broken: bool,
}

impl Proxy {
    /// One that lets everything pass to that port of this machine.
    ///
    /// # Panics
    /// When no port is free.
    pub fn to(target: u16) -> Self {
        let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).expect("a free port");
        let port = listener.local_addr().expect("a port").port();
        let shared = Arc::new(Mutex::new(Shared {
            manner: Manner::Pass,
            open: Vec::new(),
            pieces: 0,
            breaks: None,
            is_broken: false,
        }));
        let own = Arc::clone(&shared);
        thread::spawn(move || {
            for near in listener.incoming().map_while(Result::ok) {
                if manner(&own) == Manner::Refuse {
                    continue;
                }
                let Ok(far) = TcpStream::connect((Ipv4Addr::LOCALHOST, target)) else { continue };
                for (from, to, is_answer) in [(&near, &far, false), (&far, &near, true)] {
                    let (Ok(from), Ok(to)) = (from.try_clone(), to.try_clone()) else { continue };
                    let own = Arc::clone(&own);
                    thread::spawn(move || carry(from, to, is_answer, &own));
                }
                own.lock().unwrap_or_else(PoisonError::into_inner).open.push(near);
            }
        });
        Self { port, shared }
    }

    /// The port on 127.0.0.1.
    pub const fn port(&self) -> u16 {
        self.port
    }

    /// Behaves so from now on, for connections that stand too.
    pub fn behave(&self, manner: Manner) {
        let mut shared = self.shared.lock().unwrap_or_else(PoisonError::into_inner);
        shared.manner = manner;
        if manner == Manner::Refuse {
            close(&mut shared);
        }
    }

    /// Loses the `n`-th piece that would cross from now on, in either direction: with its connection, or silently with all that
    /// follow.
    pub fn break_at(&self, n: u64, silently: bool) {
        let mut shared = self.shared.lock().unwrap_or_else(PoisonError::into_inner);
        shared.breaks = Some((shared.pieces + n, silently));
    }

    /// How many pieces have come to it so far.
    pub fn pieces(&self) -> u64 {
        self.shared.lock().unwrap_or_else(PoisonError::into_inner).pieces
    }

    /// Whether that piece has been lost.
    pub fn is_broken(&self) -> bool {
        self.shared.lock().unwrap_or_else(PoisonError::into_inner).is_broken
    }

    /// Cuts all connections that stand.
    pub fn cut(&self) {
        close(&mut self.shared.lock().unwrap_or_else(PoisonError::into_inner));
    }
}

fn close(shared: &mut Shared) {
    for stream in shared.open.drain(..) {
        let _ = stream.shutdown(Shutdown::Both);
    }
}

fn manner(shared: &Mutex<Shared>) -> Manner {
    shared.lock().unwrap_or_else(PoisonError::into_inner).manner
}

/// How it behaves towards the next piece.
fn cross(shared: &Mutex<Shared>) -> Manner {
    let mut shared = shared.lock().unwrap_or_else(PoisonError::into_inner);
    shared.pieces += 1;
    match shared.breaks {
        Some((at, silently)) if shared.pieces == at => {
            shared.is_broken = true;
            if silently {
                shared.manner = Manner::Swallow;
            } else {
                close(&mut shared);
            }
            Manner::Swallow
        }
        _ => shared.manner,
    }
}

fn carry(mut from: TcpStream, mut to: TcpStream, is_answer: bool, shared: &Mutex<Shared>) {
    let mut piece = [0; 16 * 1024];
    while let Ok(length @ 1..) = from.read(&mut piece) {
        match (cross(shared), is_answer) {
            (Manner::Swallow | Manner::Refuse, _) | (Manner::SwallowAnswers, true) => continue,
            (Manner::Late(by_ms), true) => thread::sleep(Duration::from_millis(by_ms)),
            _ => {}
        }
        if to.write_all(&piece[..length]).is_err() {
            break;
        }
    }
    let _ = to.shutdown(Shutdown::Both);
    let _ = from.shutdown(Shutdown::Both);
}
