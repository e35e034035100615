-- Version 6: the hours of sealed days in brief.

-- A summary of the hours of each sealed day; `id` is that of its row in `sealed`, whose sum stands in `sheet`. `calibration` names the
-- rules by which it was made, `sum` is the CRC-32 of all that; what is in the body stands in store/hour.rs. One that is absent, damaged
-- or made by other rules is made anew from the readings.
CREATE TABLE hours (
    id INTEGER PRIMARY KEY,
    calibration INTEGER NOT NULL,
    sheet INTEGER NOT NULL,
    sum INTEGER NOT NULL,
    body BLOB NOT NULL
) STRICT;
