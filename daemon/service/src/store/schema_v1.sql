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
