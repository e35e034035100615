-- Version 3: how far the record has been forwarded.

-- One row once forwarding was configured, and from then on for good. Everything up to `sent_until_ms` has been sent, but for
-- what is noted below; `newest_ms` is the newest instant in the record.
CREATE TABLE forwarding (
    only INTEGER PRIMARY KEY CHECK (only = 1),
    destination TEXT NOT NULL,
    newest_ms INTEGER NOT NULL,
    sent_until_ms INTEGER NOT NULL
) STRICT;

-- What came into the record behind its newest instant: between which times of a bench's hour, and how often.
CREATE TABLE forwarding_late (
    hour INTEGER NOT NULL,
    bench TEXT NOT NULL,
    from_ms INTEGER NOT NULL,
    until_ms INTEGER NOT NULL,
    changes INTEGER NOT NULL,
    PRIMARY KEY (hour, bench)
) STRICT, WITHOUT ROWID;
