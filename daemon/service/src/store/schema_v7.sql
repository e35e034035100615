-- Version 7: the days of finished stretches in brief, rows of fewer bytes, and sheets whose values are told by their course.

-- A summary of the days of each stretch of 32 days (UTC, counted from 1970-01-01) of a bench that is over, made from those of their hours
-- and taken away whenever one of these is written. `calibration` names the rules by which it was made, `place` is a CRC-32 of bench and
-- stretch, `sum` the CRC-32 of all that; what is in the body stands in store/days.rs. One that is absent, damaged or made by other rules is
-- made anew.
CREATE TABLE days (
    bench TEXT NOT NULL,
    stretch INTEGER NOT NULL,
    calibration INTEGER NOT NULL,
    place INTEGER NOT NULL,
    sum INTEGER NOT NULL,
    body BLOB NOT NULL,
    PRIMARY KEY (bench, stretch)
) STRICT, WITHOUT ROWID;

-- A value that is a decimal fraction, as sensors print them, is an integer of two bytes or three in place of a real of eight: eight times
-- the whole number of its last decimal, and the number of decimals. Any other is a real, and so is what an earlier version wrote.
ALTER TABLE reading RENAME TO reading_of_version_6;
CREATE TABLE reading (
    time_ms INTEGER NOT NULL,
    series INTEGER NOT NULL,
    value ANY NOT NULL,
    fed INTEGER,
    PRIMARY KEY (time_ms, series)
) STRICT, WITHOUT ROWID;
INSERT INTO reading SELECT * FROM reading_of_version_6;
DROP TABLE reading_of_version_6;

ALTER TABLE reading_other RENAME TO reading_other_of_version_6;
CREATE TABLE reading_other (
    time_ms INTEGER NOT NULL,
    series INTEGER NOT NULL,
    value ANY NOT NULL,
    fed INTEGER,
    PRIMARY KEY (time_ms, series)
) STRICT, WITHOUT ROWID;
INSERT INTO reading_other SELECT * FROM reading_other_of_version_6;
DROP TABLE reading_other_of_version_6;

ALTER TABLE reading_undated RENAME TO reading_undated_of_version_6;
CREATE TABLE reading_undated (
    time_ms INTEGER NOT NULL,
    series INTEGER NOT NULL,
    value ANY NOT NULL,
    fed INTEGER,
    PRIMARY KEY (time_ms, series)
) STRICT, WITHOUT ROWID;
INSERT INTO reading_undated SELECT * FROM reading_undated_of_version_6;
DROP TABLE reading_undated_of_version_6;
