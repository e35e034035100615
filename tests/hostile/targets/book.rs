//! The bloom book as it is exchanged.

use std::path::Path;

use anthesisd::book::calendar::{file, jobs};
use anthesisd::book::{HouseBook, bank, exchange, fruit, look_back, pairings, past_blooms, sheets, words};
use anthesisd::config;
use anthesisd::store::{BookWriter, Reader};

use super::{NOW, store, within};

/// The most that reading a book may take, bytes a byte of it and besides.
const BYTES_A_BYTE: usize = 100;
const BYTES_BESIDES: usize = 1 << 20;

/// A book that is taken goes out again and comes in again as the same; whoever reads it is answered.
pub(super) fn exchanged(input: &[u8]) {
    let most = BYTES_BESIDES + BYTES_A_BYTE * input.len();
    let Ok(book) = within(most, "a book", || exchange::read(input)) else { return };
    let folder = store::folder();
    let place = |name: &str| folder.path().join(name);
    let first = place("first.db");
    let imported = BookWriter::open(&first).map(|mut writer| writer.import(&book));
    // an entry that corrects one twice is refused by the store itself
    let Ok(Ok(_)) = imported else { return };
    let out = |path: &Path| {
        let mut text = Vec::new();
        let reader = Reader::open(path).unwrap_or_else(|error| panic!("{error}"));
        exchange::export(&reader, "saltmarsh", &mut text).unwrap_or_else(|error| panic!("{error}"));
        text
    };
    let text = out(&first);
    let again = exchange::read(&*text).unwrap_or_else(|error| panic!("{error}"));
    let second = place("second.db");
    let writer = BookWriter::open(&second);
    let taken = writer.unwrap_or_else(|error| panic!("{error}")).import(&again);
    assert!(taken.is_ok(), "{taken:?}");
    assert_eq!(String::from_utf8_lossy(&out(&second)), String::from_utf8_lossy(&text));
    answered(&first);
}

fn answered(path: &Path) {
    let text = format!(
        "[site]\nname = \"saltmarsh\"\ntimezone = \"America/Halifax\"\n[store]\npath = \"{}\"\n\
         [[bench]]\nid = \"east-3\"\nplant = \"AT-0412\"\nprofile = \"titan-arum\"\n\
         [[bench]]\nid = \"west-1\"\nplant = \"AP-0031\"\nprofile = \"amorphophallus-paeoniifolius\"\n",
        path.display()
    );
    let config = config::parse(&text, path).unwrap_or_else(|faults| panic!("{faults}"));
    let house = HouseBook::read(&config, path, NOW).unwrap_or_else(|error| panic!("{error}"));
    let reader = Reader::open(path).ok();
    let bank = bank(&house, NOW);
    let _ = pairings(&house, NOW);
    let _ = sheets(&house, None, NOW);
    past_blooms(&house);
    for bloom in &house.blooms {
        look_back(&house, bloom, NOW);
    }
    for entry in house.book.entries() {
        words::entry(entry, house.zone);
    }
    let plants: Vec<&str> = house.plant_names().take(8).collect();
    for mother in &plants {
        for father in &plants {
            let _ = house.relation(mother, father);
        }
    }
    if let Ok(fruit) = fruit(&house, reader.as_ref(), None, NOW)
        && let Ok(jobs) = jobs(&house, &fruit, &bank, NOW)
    {
        let calendar = file("saltmarsh", &jobs, NOW);
        assert!(calendar.lines().all(|line| line.len() <= 75), "RFC 5545, 3.1: lines of 75 octets");
    }
}
