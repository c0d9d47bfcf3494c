-- What people say the program got wrong. Never edit this file: books made with it exist.

-- Kept beside the measurement, never over it. A correction of the same kind takes the place of the one before.
CREATE TABLE correction (
  id      INTEGER PRIMARY KEY,
  scoop   INTEGER NOT NULL REFERENCES scoop(id),
  no      INTEGER NOT NULL,                  -- the animal's number in its scoop, 0 = the whole scoop
  kind    TEXT NOT NULL,                     -- not_animal, two_animals, other_head, sex, juvenile, looked_through
  value   TEXT NOT NULL,                     -- what is right: yes, no, female, male
  program TEXT NOT NULL,                     -- what the program says: yes, no, female, male, unsure
  who     TEXT NOT NULL,
  at      TEXT NOT NULL,
  void    INTEGER NOT NULL DEFAULT 0
) STRICT;
CREATE INDEX correction_scoop ON correction (scoop, no);
