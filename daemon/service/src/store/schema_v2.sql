-- Version 2. Older readings are sealed: packed by bench and day (UTC).

-- All sensor readings of a bench on a day that are no longer among the rows. `day` counts from 1970-01-01, `last_fed` is the
-- highest running number among them (0 if the model took none), `sum` the CRC-32 of `body`; what is in the body stands in
-- store/sheet.rs.
CREATE TABLE sealed (
    id INTEGER PRIMARY KEY,
    bench TEXT NOT NULL,
    day INTEGER NOT NULL,
    readings INTEGER NOT NULL,
    last_fed INTEGER NOT NULL,
    sum INTEGER NOT NULL,
    body BLOB NOT NULL,
    UNIQUE (bench, day)
) STRICT;
CREATE INDEX sealed_last_fed ON sealed (last_fed);

-- `reading` and this one take turns: while one is filled, the other is sealed and then emptied as a whole, which costs
-- nothing; rows taken out one by one would have each of their pages written twice more.
CREATE TABLE reading_other (
    time_ms INTEGER NOT NULL,
    series INTEGER NOT NULL,
    value REAL NOT NULL,
    fed INTEGER,
    PRIMARY KEY (time_ms, series)
) STRICT, WITHOUT ROWID;

-- Readings whose time cannot be right: of before the house was built, or of days to come. They are not sealed.
CREATE TABLE reading_undated (
    time_ms INTEGER NOT NULL,
    series INTEGER NOT NULL,
    value REAL NOT NULL,
    fed INTEGER,
    PRIMARY KEY (time_ms, series)
) STRICT, WITHOUT ROWID;

-- One row: whether `reading_other` is being filled, and the highest running number when the tables last took turns.
CREATE TABLE turn (
    other INTEGER NOT NULL,
    fed INTEGER NOT NULL
) STRICT;
INSERT INTO turn VALUES (0, 0);

-- Nobody asks for it, and each commit wrote it.
DROP TABLE newest;
