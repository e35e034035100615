-- Version 4: the bloom book.

-- What people book about plants, pollen, crosses and fruit: one list that only grows. `fact` is JSON whose key `what` names
-- it; `corrects` is the number of the entry that this one takes the place of.
CREATE TABLE book (
    number INTEGER PRIMARY KEY AUTOINCREMENT,
    time_ms INTEGER NOT NULL,
    booked_ms INTEGER NOT NULL,
    subject TEXT NOT NULL,
    fact TEXT NOT NULL,
    by TEXT,
    note TEXT,
    corrects INTEGER REFERENCES book (number)
) STRICT;
CREATE UNIQUE INDEX book_corrects ON book (corrects) WHERE corrects IS NOT NULL;
CREATE TRIGGER book_stays BEFORE DELETE ON book BEGIN SELECT raise(ABORT, 'an entry of the book never vanishes'); END;
CREATE TRIGGER book_holds BEFORE UPDATE ON book BEGIN SELECT raise(ABORT, 'an entry of the book never changes'); END;

-- Events of blooms that came with a book from another store: for reading only, they are never raised or told.
CREATE TABLE book_event (
    id TEXT PRIMARY KEY,
    time_ms INTEGER NOT NULL,
    payload TEXT NOT NULL
) STRICT, WITHOUT ROWID;
