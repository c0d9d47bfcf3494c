-- The house's own eye. Never edit this file: books made with it exist.

-- A rung that a person gave an animal, beside what the program measured.
CREATE TABLE own_rung (
  id      INTEGER PRIMARY KEY,
  scoop   INTEGER NOT NULL REFERENCES scoop(id),
  no      INTEGER NOT NULL,                  -- the animal's number in its scoop
  rung    INTEGER NOT NULL,                  -- 0 to 5
  who     TEXT NOT NULL,                     -- whose eye
  at      TEXT NOT NULL,
  blind   INTEGER NOT NULL,                  -- 1: the program's rung was hidden
  program INTEGER,                           -- the program's rung then, where it had one
  sitting INTEGER REFERENCES sitting(id),
  void    INTEGER NOT NULL DEFAULT 0
) STRICT;
CREATE INDEX own_rung_animal ON own_rung (scoop, no);

-- Animals drawn for a blind test or a quiz.
CREATE TABLE sitting (
  id      INTEGER PRIMARY KEY,
  kind    TEXT NOT NULL,                     -- test or quiz
  ladder  TEXT NOT NULL,
  who     TEXT NOT NULL,                     -- who is asked
  at      TEXT NOT NULL,
  animals TEXT NOT NULL,                     -- scoop/number in the order shown, a space between
  void    INTEGER NOT NULL DEFAULT 0
) STRICT;

-- Every text of a ladder that was in force, so that old grades keep their meaning.
CREATE TABLE ladder_text (
  id     INTEGER PRIMARY KEY,
  ladder TEXT NOT NULL,
  sha256 TEXT NOT NULL,
  at     TEXT NOT NULL,
  why    TEXT NOT NULL,
  text   TEXT NOT NULL,
  void   INTEGER NOT NULL DEFAULT 0
) STRICT;
CREATE INDEX ladder_text_ladder ON ladder_text (ladder, at);
