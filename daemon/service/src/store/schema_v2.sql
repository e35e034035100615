-- Version 2. Older readings are sealed: packed by bench and day (UTC).

-- All sensor readings of a bench on a day that are no longer among the rows of `reading`. `day` counts from 1970-01-01,
-- `last_fed` is the highest running number among them (0 if the model took none), `sum` the CRC-32 of `body`; what is in
-- the body stands in store/sheet.rs.
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
