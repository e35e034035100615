-- Version 5: what is not sealed yet can be told from what was never committed.

-- The sum, modulo 2^32, of the CRC-32 of each row of readings and of what was booked that the commit wrote with a running
-- number, without what a person said of it; how a row is put into bytes stands in store/feeding.rs. Absent in what an earlier
-- version wrote.
ALTER TABLE feeding ADD COLUMN sum INTEGER;
