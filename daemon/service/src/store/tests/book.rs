//! The bloom book in the file: it only grows, whoever writes.

use bloom_model::book::Fact;
use bloom_model::reading::Observed;

use super::*;
use crate::store::{BookEvent, BookWriter, Booking, Draft, Entry, ImportBookError, ImportedBook};

fn draft(subject: &str, mass_kg: f64) -> Draft {
    let fact = Fact::Weighed { mass_kg };
    Draft {
        time: at(5),
        subject: subject.to_owned(),
        fact,
        by: None,
        note: Some("wet".to_owned()),
        corrects: None,
    }
}

fn booking(drafts: Vec<Draft>) -> Booking {
    Booking { drafts, tell: Vec::new() }
}

#[test]
fn an_entry_is_in_the_book_at_once_beside_the_keeper_and_what_the_service_hears_goes_with_it() {
    let (_directory, path) = place();
    let mut store = Store::open(&path).unwrap();
    let mut writer = BookWriter::open(&path).unwrap();
    let sign = Entry::Observed {
        bench: "east-3".to_owned(),
        time: at(5),
        observed: Observed::Sign("pollinated".parse().unwrap()),
        note: None,
        by: None,
    };
    let tell = vec![sign.clone()];
    let written = writer.write(at(9), |known| {
        assert_eq!(known, []);
        Ok::<_, ()>((Booking { drafts: vec![draft("AT-0412", 31.2), draft("AT-0398", 12.0)], tell }, "told"))
    });
    assert_eq!(written.unwrap(), Ok((vec![1, 2], "told")));
    assert_eq!(store.pending_entries().unwrap(), [(1, Ok(sign))]);
    let book = Reader::open(&path).unwrap().book().unwrap();
    assert_eq!(book.len(), 2);
    assert_eq!((book[0].number, book[0].time, book[0].booked), (1, at(5), at(9)));
    assert_eq!((book[1].subject.as_str(), &book[1].fact), ("AT-0398", &Fact::Weighed { mass_kg: 12.0 }));
}

#[test]
fn what_is_refused_leaves_no_trace() {
    let (_directory, path) = place();
    let mut writer = BookWriter::open(&path).unwrap();
    let refused = writer.write(at(9), |_| Err::<(Booking, ()), _>("selfing"));
    assert_eq!(refused.unwrap(), Err("selfing"));
    // two entries of which one cannot be: a second correction of the same entry
    writer.write(at(9), |_| Ok::<_, ()>((booking(vec![draft("AT-0412", 31.2)]), ()))).unwrap().unwrap();
    let correction = Draft { corrects: Some(1), ..draft("AT-0412", 30.0) };
    let twice = vec![correction.clone(), correction];
    writer.write(at(9), |_| Ok::<_, ()>((booking(twice), ()))).expect_err("an entry is corrected once");
    assert_eq!(Reader::open(&path).unwrap().book().unwrap().len(), 1);
}

#[test]
fn nobody_can_take_an_entry_out_or_change_it() {
    let (_directory, path) = place();
    let mut writer = BookWriter::open(&path).unwrap();
    writer.write(at(9), |_| Ok::<_, ()>((booking(vec![draft("AT-0412", 31.2)]), ()))).unwrap().unwrap();
    let conn = rusqlite::Connection::open(&path).unwrap();
    for statement in ["DELETE FROM book", "UPDATE book SET note = 'dry'"] {
        let refused = conn.execute(statement, []).unwrap_err();
        assert!(refused.to_string().contains("never"), "{refused}");
    }
}

#[test]
fn a_book_is_put_into_an_empty_store_or_onto_its_earlier_copy_and_onto_no_other() {
    let (_directory, path) = place();
    let mut writer = BookWriter::open(&path).unwrap();
    for mass_kg in [31.2, 33.0] {
        writer
            .write(at(9), |_| Ok::<_, ()>((booking(vec![draft("AT-0412", mass_kg)]), ())))
            .unwrap()
            .unwrap();
    }
    let whole = || ImportedBook {
        entries: Reader::open(&path).unwrap().book().unwrap(),
        signs: Vec::new(),
        events: vec![BookEvent {
            id: "east-3-2027a/closed/1".to_owned(),
            time: at(7),
            payload: "{}".to_owned(),
        }],
    };
    let (_other, copy) = place();
    let mut copier = BookWriter::open(&copy).unwrap();
    assert_eq!(copier.import(&whole()).unwrap(), 3);
    assert_eq!(copier.import(&whole()).unwrap(), 0, "it is all there");
    writer.write(at(9), |_| Ok::<_, ()>((booking(vec![draft("AT-0398", 1.0)]), ()))).unwrap().unwrap();
    assert_eq!(copier.import(&whole()).unwrap(), 1);
    let reader = Reader::open(&copy).unwrap();
    assert_eq!(reader.book().unwrap(), whole().entries);
    assert_eq!(reader.life_events(at(60)).unwrap().len(), 1);
    copier.write(at(9), |_| Ok::<_, ()>((booking(vec![draft("AT-0398", 2.0)]), ()))).unwrap().unwrap();
    writer.write(at(9), |_| Ok::<_, ()>((booking(vec![draft("AT-0398", 3.0)]), ()))).unwrap().unwrap();
    assert!(matches!(copier.import(&whole()), Err(ImportBookError::Clash { number: 4 })));
    assert_eq!(reader.book().unwrap().len(), 4);
}
