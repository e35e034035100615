//! Many at the page's door at once: who guesses, who holds connections and says nothing, and those who must get in all the same.

use std::io::{ErrorKind, Read, Write};
use std::net::{Ipv4Addr, SocketAddr, TcpStream};
use std::thread;

use end_to_end::service::{Service, eventually};
use end_to_end::web::{ask_from, connect_from, page_of};

use super::{ROBIN, WRONG, guarded_house, house};

/// The machine itself, and somebody else.
const HERE: Ipv4Addr = Ipv4Addr::LOCALHOST;
const ELSEWHERE: Ipv4Addr = Ipv4Addr::new(127, 0, 0, 2);

/// Resident memory stays below this, whatever strangers ask, KiB.
const MOST_KIB: u64 = 64 << 10;

/// One of many strangers.
fn stranger(number: u8) -> Ipv4Addr {
    Ipv4Addr::new(127, 0, 9, number)
}

/// Asks as a browser does that has just come.
fn gets_in(from: Ipv4Addr, at: SocketAddr, path: &str) -> bool {
    ask_from(from, at, &format!("GET {path}"), &[]).is_some_and(|answer| answer.status == 200)
}

/// So many connections of one address that say this and then nothing.
fn holding(from: Ipv4Addr, at: SocketAddr, number: usize, said: &str) -> Vec<TcpStream> {
    let hold = |_| {
        let mut stream = connect_from(from, at);
        // one that was closed already says nothing, and that is what is wanted
        let _ = stream.write_all(said.as_bytes());
        stream
    };
    (0..number).map(hold).collect()
}

/// Every check of a password needs 19 MiB (OWASP Password Storage Cheat Sheet, the least for Argon2id, from memory): those of many
/// at once must not add up, nor stay.
#[test]
fn wrong_passwords_of_many_at_once_cost_one_check_of_memory() {
    let house = guarded_house();
    let service = Service::start(&house);
    let at = page_of(&service);
    let guessed: Vec<u16> = thread::scope(|scope| {
        let guess = |number: u8| {
            move || {
                let ask =
                    || ask_from(stranger(number), at, "GET /", &[WRONG]).map_or(0, |answer| answer.status);
                (0..6).map(|_| ask()).collect::<Vec<u16>>()
            }
        };
        let all: Vec<_> = (1..=32).map(|number| scope.spawn(guess(number))).collect();
        all.into_iter().flat_map(|one| one.join().expect("it ends")).collect()
    });
    let (now_kib, most_kib) = service.resident_kib();
    println!("{} guesses: {now_kib} KiB resident, {most_kib} at most", guessed.len());
    assert!(most_kib < MOST_KIB, "{most_kib} KiB at most, {now_kib} now");
    assert!(guessed.iter().all(|status| [401, 429, 503].contains(status)), "{guessed:?}");
    assert!(
        guessed.iter().filter(|status| **status == 401).count() >= 32,
        "they were looked at: {guessed:?}"
    );
    // and who has it is let in
    eventually("Robin is let in", || {
        ask_from(HERE, at, "GET /", &[ROBIN]).is_some_and(|answer| answer.status == 200)
    });
}

#[test]
fn connections_of_one_address_shut_out_nobody() {
    let house = house();
    let service = Service::start(&house);
    let at = page_of(&service);
    eventually("the page is laid out", || gets_in(ELSEWHERE, at, "/"));
    // a page that is open somewhere else, with its stream
    let mut open = connect_from(ELSEWHERE, at);
    write!(open, "GET /live HTTP/1.1\r\nHost: {at}\r\n\r\n").expect("it is asked");
    let mut piece = [0; 256];
    assert!(open.read(&mut piece).expect("an answer") > 0);

    let body_never_comes =
        format!("POST /bench/east-3/sign HTTP/1.1\r\nHost: {at}\r\nContent-Length: 99\r\n\r\n");
    for said in ["", "GET / HTTP/1.1\r\nHost: ", &body_never_comes] {
        let _held = holding(HERE, at, 400, said);
        for _ in 0..5 {
            assert!(gets_in(ELSEWHERE, at, "/"), "somebody else, {said:?}");
            assert!(gets_in(HERE, at, "/watch/moving"), "the same address, {said:?}");
        }
    }
    // from many addresses, too
    let _held: Vec<_> =
        (1..=40).map(|number| holding(stranger(number), at, 12, "GET / HTTP/1.1\r\n")).collect();
    for _ in 0..5 {
        assert!(gets_in(ELSEWHERE, at, "/") && gets_in(HERE, at, "/watch/moving"));
    }
    // the open page was left in peace: what it hears goes on
    open.set_nonblocking(true).expect("it need not wait");
    let end = loop {
        match open.read(&mut piece) {
            Ok(0) => break true,
            Ok(_) => {}
            Err(error) => break error.kind() != ErrorKind::WouldBlock,
        }
    };
    assert!(!end, "the stream of an open page was ended");
}

#[test]
fn a_connection_that_says_nothing_is_closed() {
    let house = house();
    let service = Service::start(&house);
    let at = page_of(&service);
    for said in ["", "GET / HTTP/1.1\r\nHost: "] {
        for mut idle in holding(HERE, at, 3, said) {
            let mut all = Vec::new();
            // until the other side ends it, or the test's patience does
            let ended = idle.read_to_end(&mut all).is_ok_and(|_| true);
            assert!(ended, "{said:?} is held for ever");
        }
    }
}
