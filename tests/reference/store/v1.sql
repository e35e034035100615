-- A store of version 1 as it lay on the disk, with a row or more in each table. Every later version must take it up
-- without loss: this file is never changed.
PRAGMA application_id = 1095652424;
PRAGMA user_version = 1;
BEGIN;
-- Version 1. A released version's text is never changed; a change is a version of its own.

-- What a sensor measures at a bench. A bench that is no longer configured keeps its series.
CREATE TABLE series (
    id INTEGER PRIMARY KEY,
    bench TEXT NOT NULL,
    quantity TEXT NOT NULL,
    UNIQUE (bench, quantity)
) STRICT;

-- Sensor readings. `fed` is the running number in which the model took it; without one it is in the record only.
CREATE TABLE reading (
    time_ms INTEGER NOT NULL,
    series INTEGER NOT NULL,
    value REAL NOT NULL,
    fed INTEGER,
    PRIMARY KEY (time_ms, series)
) STRICT, WITHOUT ROWID;

-- What a person booked: a taped value (`what` is the quantity) or a sign (`what` is its text, and there is no value).
CREATE TABLE booked (
    time_ms INTEGER NOT NULL,
    bench TEXT NOT NULL,
    what TEXT NOT NULL,
    value REAL,
    note TEXT,
    by TEXT,
    fed INTEGER,
    PRIMARY KEY (time_ms, bench, what)
) STRICT, WITHOUT ROWID;
CREATE INDEX booked_fed ON booked (fed) WHERE fed IS NOT NULL;

-- A row a commit: the newest running number in it, and between which times its sensor readings lie. With it, what was
-- fed after a number is found without an index as large as the readings.
CREATE TABLE feeding (
    last_fed INTEGER PRIMARY KEY,
    from_ms INTEGER,
    until_ms INTEGER
) STRICT;

-- The newest reading of each series that the model took.
CREATE TABLE newest (
    series INTEGER PRIMARY KEY,
    time_ms INTEGER NOT NULL
) STRICT;

CREATE TABLE checkpoint (
    bench TEXT PRIMARY KEY,
    state BLOB NOT NULL,
    version INTEGER NOT NULL,
    fed INTEGER NOT NULL
) STRICT;

-- Events in the order in which they were raised; `after_fed` is the newest running number at that moment.
CREATE TABLE event (
    number INTEGER PRIMARY KEY,
    id TEXT NOT NULL UNIQUE,
    bench TEXT,
    time_ms INTEGER NOT NULL,
    kind TEXT NOT NULL,
    severity TEXT NOT NULL,
    payload TEXT NOT NULL,
    after_fed INTEGER NOT NULL
) STRICT;
CREATE INDEX event_after_fed ON event (after_fed);
CREATE INDEX event_bench_time ON event (bench, time_ms);

CREATE TABLE alarm (
    event_id TEXT PRIMARY KEY,
    bench TEXT,
    severity TEXT NOT NULL,
    kind TEXT NOT NULL,
    raised_ms INTEGER NOT NULL,
    stands_until_ms INTEGER,
    acknowledged_ms INTEGER,
    acknowledged_by TEXT,
    ended_ms INTEGER,
    repeats INTEGER NOT NULL,
    next_repeat_ms INTEGER,
    payload TEXT NOT NULL
) STRICT;

-- Messages that have yet to leave the house. Ids ascend and are never used again.
CREATE TABLE outgoing (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    importance INTEGER NOT NULL,
    size INTEGER NOT NULL,
    displaces TEXT,
    retain INTEGER NOT NULL,
    topic TEXT NOT NULL,
    payload TEXT NOT NULL
) STRICT;
CREATE INDEX outgoing_importance ON outgoing (importance, id, size);
CREATE INDEX outgoing_displaces ON outgoing (displaces) WHERE displaces IS NOT NULL;

-- What short-lived commands put in for the keeper to take up.
CREATE TABLE entry (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    body TEXT NOT NULL
) STRICT;

CREATE TABLE run (
    number INTEGER PRIMARY KEY,
    began_ms INTEGER NOT NULL
) STRICT;

CREATE TABLE count (
    name TEXT PRIMARY KEY,
    value INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

INSERT INTO series VALUES (1, 'east-3', 'temperature'), (2, 'east-3', 'tip-range');
INSERT INTO reading VALUES
    (1811880000000, 1, 27.31, 1),
    (1811880000000, 2, 0.914, 2),
    (1811880010000, 1, 27.25, NULL);
INSERT INTO booked VALUES
    (1811880005000, 'east-3', 'height', 2.186, 'from the pot rim', 'Ida', 4),
    (1811880060000, 'east-3', 'bract-dropped', NULL, NULL, 'Ida', 3),
    (1811880120000, 'east-3', 'withdrawn bract-dropped', NULL, NULL, NULL, NULL);
INSERT INTO feeding VALUES (2, 1811880000000, 1811880000000), (4, NULL, NULL);
INSERT INTO newest VALUES (1, 1811880000000), (2, 1811880000000);
INSERT INTO checkpoint VALUES ('east-3', X'0001FF', 1, 2);
INSERT INTO event VALUES
    (1, 'east-3-2027a/morning/1', 'east-3', 1811880007000, 'morning', 'notice', '{"id":"east-3-2027a/morning/1"}', 2);
INSERT INTO alarm VALUES
    ('east-3-2027a/opening-tonight/1', 'east-3', 'alarm', 'opening-tonight', 1811880009000, 1811916000000,
     NULL, NULL, NULL, 2, 1811880600000, '{}'),
    ('saltmarsh/test/1', NULL, 'alarm', 'test', 1811880000000, NULL, 1811880060000, 'Ida', 1811880060000, 0, NULL, '{}');
INSERT INTO outgoing VALUES
    (12, 2, 35, 'anthesis/saltmarsh/east-3/alarm', 1, 'anthesis/saltmarsh/east-3/alarm', '[{}]'),
    (13, 1, 33, NULL, 0, 'anthesis/saltmarsh/east-3/event', '{}');
INSERT INTO entry VALUES (5, '{"acknowledge":{"id":null,"by":"Ida"}}');
INSERT INTO run VALUES (1, 1811880000000);
INSERT INTO count VALUES ('dropped-messages', 3);
COMMIT;
