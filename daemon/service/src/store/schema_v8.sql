-- Version 8: who has had an alarm, and who comes because of it.

-- When the broker first said that it has the alarm; null while that is not known.
ALTER TABLE alarm ADD COLUMN delivered_ms INTEGER;
-- Somebody said, at the first instant, to be there by the second: until then it is not repeated.
ALTER TABLE alarm ADD COLUMN coming_since_ms INTEGER;
ALTER TABLE alarm ADD COLUMN coming_until_ms INTEGER;
ALTER TABLE alarm ADD COLUMN coming_by TEXT;
-- How many of its repeats came before it last came back, unanswered after all: those since then are paced anew.
ALTER TABLE alarm ADD COLUMN repeats_before INTEGER NOT NULL DEFAULT 0;
