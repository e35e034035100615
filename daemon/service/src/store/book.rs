//! The bloom book: a list that only grows.
//!
//! A command writes its entry itself, beside the keeper of the store if the service runs: what it decides by (names that are
//! free, kinship, portions left) is read in the same transaction, and a confirmed entry is in the book at once. What the model
//! has to hear of it goes with it as an ordinary [`Entry`] for the keeper.

use std::path::{Path, PathBuf};
use std::sync::LazyLock;

use bloom_model::book;
use bloom_model::book::entry::Fact;
use bloom_model::event::EventKind;
use bloom_model::time::Time;
use rusqlite::{Connection, Row, TransactionBehavior, params};

use super::entries::{self, Entry};
use super::error::{StoreError, unreadable};
use super::readings::{self, Recorded, SeriesIds};
use super::{Reader, file, from_sql, to_sql};

/// Entries in the book at most: at a thousand a year, two centuries.
pub const MAX_BOOK_ENTRIES: usize = 200_000;

/// The events of a bloom's life, up to a time, that the book is read from; of mornings the last in bud is enough.
static LIFE_EVENTS: LazyLock<String> = LazyLock::new(|| {
    let steps = EventKind::ALL.iter().filter(|kind| kind.step().is_some());
    let steps: Vec<String> = steps.map(|kind| format!("'{}'", kind.name())).collect();
    format!(
        "
    SELECT id, time_ms, payload, number FROM event
    WHERE time_ms <= ?1 AND (kind IN ({})
       OR number IN (SELECT max(number) FROM event WHERE kind = 'morning' AND time_ms <= ?1
                     GROUP BY json_extract(payload, '$.bloom'))
       OR number IN (SELECT max(number) FROM event
                     WHERE kind = 'sign-booked' AND time_ms <= ?1 AND json_extract(payload, '$.opens') IS NOT NULL
                     GROUP BY json_extract(payload, '$.bloom')))
    UNION ALL
    SELECT id, time_ms, payload, 0 FROM book_event WHERE time_ms <= ?1 AND id NOT IN (SELECT id FROM event)
    ORDER BY time_ms, number, id",
        steps.join(", ")
    )
});

/// An entry before it has its number.
#[derive(Debug, Clone, PartialEq)]
pub struct Draft {
    /// When it happened.
    pub time: Time,
    /// What it speaks of.
    pub subject: String,
    /// What happened.
    pub fact: Fact,
    /// Who.
    pub by: Option<String>,
    /// Anything else.
    pub note: Option<String>,
    /// The entry that it takes the place of.
    pub corrects: Option<u64>,
}

/// What is to be written together.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Booking {
    /// Entries of the book.
    pub drafts: Vec<Draft>,
    /// What the service is to hear of.
    pub tell: Vec<Entry>,
}

/// An event that came with a book.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BookEvent {
    /// Its id.
    pub id: String,
    /// The instant it speaks of.
    pub time: Time,
    /// As it was published.
    pub payload: String,
}

/// A book to be put into the store.
#[derive(Debug, Default)]
pub struct ImportedBook {
    /// Entries with their numbers.
    pub entries: Vec<book::Entry>,
    /// Signs and taped values.
    pub signs: Vec<Recorded>,
    /// Events of blooms.
    pub events: Vec<BookEvent>,
}

/// Why a book cannot be put into the store; nothing was written.
#[derive(Debug, thiserror::Error)]
pub enum ImportBookError {
    /// The store.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The store's own book says something else under a number.
    #[error(
        "entry {number} is another one in this store's book: a book can be put into an empty store, or into one that holds \
         an earlier copy of it; nothing was written"
    )]
    Clash {
        /// The entry's number.
        number: u64,
    },
}

/// The write side of the book, for commands and the page; beside the keeper of the store if the service runs.
#[derive(Debug)]
pub struct BookWriter {
    path: PathBuf,
    conn: Connection,
    _keeping: Option<super::guard::Keeping>,
}

impl BookWriter {
    /// Opens the store at `path`; creates it if there is none.
    ///
    /// # Errors
    /// The reasons of [`super::Store::open`], except that a keeper is no hindrance unless the file is of an older version.
    pub fn open(path: &Path) -> Result<Self, StoreError> {
        let (keeping, conn) = file::open_to_import(path)?;
        Ok(Self { path: path.to_owned(), conn, _keeping: keeping })
    }

    /// Reads the book, asks what is to be written and writes it, all in one transaction, synced; gives the numbers of the
    /// new entries and what `decide` gave beside them. If `decide` refuses, nothing is written.
    ///
    /// # Errors
    /// The disk's troubles, [`StoreError::TooManyEntries`] if nobody takes up what the service is to hear, and
    /// [`StoreError::BookFull`].
    pub fn write<T, E>(
        &mut self,
        booked: Time,
        decide: impl FnOnce(Vec<book::Entry>) -> Result<(Booking, T), E>,
    ) -> Result<Result<(Vec<u64>, T), E>, StoreError> {
        let at = |error| StoreError::of(&self.path, error);
        let tx = self.conn.transaction_with_behavior(TransactionBehavior::Immediate).map_err(at)?;
        let known = read(&tx).map_err(at)?;
        let room = MAX_BOOK_ENTRIES.saturating_sub(known.len());
        let (booking, beside) = match decide(known) {
            Ok(decided) => decided,
            Err(refusal) => return Ok(Err(refusal)),
        };
        if booking.drafts.len() > room {
            return Err(StoreError::BookFull { path: self.path.clone(), most: MAX_BOOK_ENTRIES });
        }
        let mut numbers = Vec::with_capacity(booking.drafts.len());
        for draft in &booking.drafts {
            let Draft { time, subject, fact, by, note, corrects } = draft;
            let row = New { number: None, time: *time, booked, subject, fact, by, note, corrects: *corrects };
            numbers.push(insert(&tx, &row).map_err(at)?);
        }
        for entry in &booking.tell {
            entries::put(&tx, &self.path, entry)?;
        }
        tx.commit().map_err(at)?;
        Ok(Ok((numbers, beside)))
    }

    /// Puts a book into the store, all of it or nothing; what is there already stays. Gives how much was new.
    ///
    /// # Errors
    /// If a number stands for something else here, and the disk's troubles.
    pub fn import(&mut self, book: &ImportedBook) -> Result<usize, ImportBookError> {
        let at = |error| StoreError::of(&self.path, error);
        let tx = self.conn.transaction_with_behavior(TransactionBehavior::Immediate).map_err(at)?;
        let known = read(&tx).map_err(at)?;
        let mut new = 0;
        for entry in &book.entries {
            match known.iter().find(|known| known.number == entry.number) {
                Some(known) if known == entry => {}
                Some(_) => return Err(ImportBookError::Clash { number: entry.number }),
                None => {
                    let book::Entry { number, time, booked, subject, fact, by, note, corrects } = entry;
                    let number = Some(*number);
                    let row = New {
                        number,
                        time: *time,
                        booked: *booked,
                        subject,
                        fact,
                        by,
                        note,
                        corrects: *corrects,
                    };
                    insert(&tx, &row).map_err(at)?;
                    new += 1;
                }
            }
        }
        let written = readings::write(&tx, &mut SeriesIds::default(), &book.signs).map_err(at)?;
        new += book.signs.len() - written.known.len();
        {
            let mut put = tx
                .prepare(
                    "INSERT INTO book_event (id, time_ms, payload) SELECT ?1, ?2, ?3
                     WHERE NOT EXISTS (SELECT 1 FROM event WHERE id = ?1) ON CONFLICT DO NOTHING",
                )
                .map_err(at)?;
            for event in &book.events {
                new += put.execute(params![event.id, event.time.unix_ms(), event.payload]).map_err(at)?;
            }
        }
        tx.commit().map_err(at)?;
        Ok(new)
    }
}

impl Reader {
    /// The entries of the book, in the order of their numbers.
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn book(&self) -> Result<Vec<book::Entry>, StoreError> {
        read(&self.conn).map_err(|error| self.error(error))
    }

    /// The events of the blooms' lives up to a time, in its order, as they were published; of the mornings in bud the last.
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn life_events(&self, until: Time) -> Result<Vec<BookEvent>, StoreError> {
        let read = || -> rusqlite::Result<Vec<_>> {
            self.conn
                .prepare_cached(&LIFE_EVENTS)?
                .query_map([until.unix_ms()], |row| {
                    let time = Time::from_unix_ms(row.get(1)?);
                    Ok(BookEvent { id: row.get(0)?, time, payload: row.get(2)? })
                })?
                .collect()
        };
        read().map_err(|error| self.error(error))
    }

    /// What people booked by hand at all benches, signs and taped values, by time.
    ///
    /// # Errors
    /// The disk's troubles.
    pub fn booked_by_hand(&self) -> Result<Vec<Recorded>, StoreError> {
        let read = || -> rusqlite::Result<Vec<_>> {
            self.conn
                .prepare_cached(
                    "SELECT time_ms, bench, what, value, note, by, fed FROM booked ORDER BY time_ms, bench, what",
                )?
                .query_map([], |row| {
                    Ok(Recorded {
                        time: Time::from_unix_ms(row.get(0)?),
                        bench: row.get(1)?,
                        observed: readings::booked(2, &row.get::<_, String>(2)?, row.get(3)?)?,
                        note: row.get(4)?,
                        by: row.get(5)?,
                        fed: row.get::<_, Option<i64>>(6)?.map(from_sql),
                    })
                })?
                .collect()
        };
        read().map_err(|error| self.error(error))
    }
}

fn read(conn: &Connection) -> rusqlite::Result<Vec<book::Entry>> {
    conn.prepare_cached(
        "SELECT number, time_ms, booked_ms, subject, fact, by, note, corrects FROM book ORDER BY number",
    )?
    .query_map([], entry)?
    .collect()
}

fn entry(row: &Row<'_>) -> rusqlite::Result<book::Entry> {
    Ok(book::Entry {
        number: from_sql(row.get(0)?),
        time: Time::from_unix_ms(row.get(1)?),
        booked: Time::from_unix_ms(row.get(2)?),
        subject: row.get(3)?,
        fact: serde_json::from_str(&row.get::<_, String>(4)?).map_err(|error| unreadable(4, error))?,
        by: row.get(5)?,
        note: row.get(6)?,
        corrects: row.get::<_, Option<i64>>(7)?.map(from_sql),
    })
}

/// A row to be written; without a number it gets the next.
struct New<'a> {
    number: Option<u64>,
    time: Time,
    booked: Time,
    subject: &'a str,
    fact: &'a Fact,
    by: &'a Option<String>,
    note: &'a Option<String>,
    corrects: Option<u64>,
}

fn insert(conn: &Connection, row: &New<'_>) -> rusqlite::Result<u64> {
    let fact = serde_json::to_string(row.fact)
        .map_err(|error| rusqlite::Error::ToSqlConversionFailure(Box::new(error)))?;
    conn.prepare_cached(
        "INSERT INTO book (number, time_ms, booked_ms, subject, fact, by, note, corrects)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8) RETURNING number",
    )?
    .query_row(
        params![
            row.number.map(to_sql),
            row.time.unix_ms(),
            row.booked.unix_ms(),
            row.subject,
            fact,
            row.by,
            row.note,
            row.corrects.map(to_sql)
        ],
        |row| row.get(0).map(from_sql),
    )
}
