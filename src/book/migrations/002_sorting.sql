-- Version 2. Never edit this file: books made with it exist. A change is a new file with the next number.
--
-- Sorting a tank cup by cup. The cups' photos are scoops like any other.

CREATE TABLE sorting (
  id      INTEGER PRIMARY KEY,
  tank    INTEGER NOT NULL REFERENCES tank(id),
  since   TEXT NOT NULL,
  females INTEGER NOT NULL,                  -- wanted
  males   INTEGER NOT NULL,
  places  INTEGER NOT NULL,                  -- of the holding tub for each sex, 0 = no tub
  animals INTEGER NOT NULL,                  -- in the tank before the first cup
  counted INTEGER NOT NULL,                  -- 1: counted, 0: a guess
  learned TEXT NOT NULL,                     -- what was known before the first cup, JSON
  ended   TEXT,
  void    INTEGER NOT NULL DEFAULT 0
) STRICT;
CREATE INDEX sorting_tank ON sorting (tank, since);

-- What was decided of a cup, so that it need not be decided again: by then the animals have been moved.
CREATE TABLE sorting_cup (
  id        INTEGER PRIMARY KEY,
  sorting   INTEGER NOT NULL REFERENCES sorting(id),
  no        INTEGER NOT NULL,
  scoop     INTEGER REFERENCES scoop(id),    -- empty for the last entry, when the tub is emptied
  at        TEXT NOT NULL,
  sweeps    INTEGER,
  left_told INTEGER,
  last      INTEGER NOT NULL,                -- 1: the tank is empty after it
  animals   TEXT NOT NULL,                   -- number, sex, worth or reason, verdict of each, JSON
  from_tub  TEXT NOT NULL,                   -- what left the tub, JSON
  line      TEXT NOT NULL,                   -- where the line lay for each sex, JSON
  void      INTEGER NOT NULL DEFAULT 0
) STRICT;
CREATE INDEX sorting_cup_sorting ON sorting_cup (sorting, no);
