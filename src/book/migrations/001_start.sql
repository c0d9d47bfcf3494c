-- Version 1. Never edit this file: books made with it exist. A change is a new file with the next number.
--
-- Dates are YYYY-MM-DD and moments YYYY-MM-DDTHH:MM:SS, both local: a keeper's evening has no time zone.
-- Shares are 0 to 1. A column u_NAME is the standard uncertainty of column NAME.
-- void = 1: taken back or removed; the row stays, nothing reads it but the trail.

CREATE TABLE change (
  id        INTEGER PRIMARY KEY,
  at        TEXT NOT NULL,
  who       TEXT NOT NULL,
  what      TEXT NOT NULL,
  undoes    INTEGER REFERENCES change(id),   -- set for the taking back of a change
  undone_by INTEGER REFERENCES change(id)    -- set while a change is taken back
) STRICT;

-- What a change did to single rows: columns before and after as a JSON object.
CREATE TABLE change_row (
  change     INTEGER NOT NULL REFERENCES change(id),
  no         INTEGER NOT NULL,
  table_name TEXT NOT NULL,
  row        INTEGER NOT NULL,
  before     TEXT NOT NULL,
  after      TEXT NOT NULL,
  PRIMARY KEY (change, no)
) STRICT, WITHOUT ROWID;

CREATE TABLE line (
  id     INTEGER PRIMARY KEY,
  code   TEXT NOT NULL,
  title  TEXT NOT NULL DEFAULT '',
  ladder TEXT NOT NULL,                      -- id of the ladder: red, rili-blue, ...
  since  TEXT NOT NULL,
  ended  TEXT,
  void   INTEGER NOT NULL DEFAULT 0
) STRICT;
CREATE UNIQUE INDEX line_code ON line (code COLLATE NOCASE) WHERE void = 0;

CREATE TABLE tank (
  id      INTEGER PRIMARY KEY,
  code    TEXT NOT NULL,
  line    INTEGER REFERENCES line(id),
  place   TEXT NOT NULL DEFAULT '',
  litres  REAL,
  since   TEXT NOT NULL,
  retired TEXT,
  void    INTEGER NOT NULL DEFAULT 0
) STRICT;
CREATE UNIQUE INDEX tank_code ON tank (code COLLATE NOCASE) WHERE void = 0;

-- A generation of a line that lives in a tank from a day on; the latest one is the present one.
CREATE TABLE generation (
  id      INTEGER PRIMARY KEY,
  tank    INTEGER NOT NULL REFERENCES tank(id),
  line    INTEGER NOT NULL REFERENCES line(id),
  number  INTEGER NOT NULL,                  -- 0 = founders
  since   TEXT NOT NULL,
  females INTEGER,
  males   INTEGER,
  origin  TEXT NOT NULL DEFAULT '',
  void    INTEGER NOT NULL DEFAULT 0
) STRICT;
CREATE INDEX generation_tank ON generation (tank, since);
CREATE INDEX generation_line ON generation (line, number);

-- The tanks its founders were taken from. Never changed after the generation is noted.
CREATE TABLE parent (
  generation INTEGER NOT NULL REFERENCES generation(id),
  tank       INTEGER NOT NULL REFERENCES tank(id),
  PRIMARY KEY (generation, tank)
) STRICT, WITHOUT ROWID;

-- What moves colour or its measuring, from a day on; without a tank it holds for the whole room.
CREATE TABLE condition (
  id    INTEGER PRIMARY KEY,
  tank  INTEGER REFERENCES tank(id),
  kind  TEXT NOT NULL,
  value TEXT NOT NULL,
  since TEXT NOT NULL,
  void  INTEGER NOT NULL DEFAULT 0
) STRICT;
CREATE INDEX condition_tank ON condition (tank, since);

CREATE TABLE note (
  id    INTEGER PRIMARY KEY,
  tank  INTEGER NOT NULL REFERENCES tank(id),
  kind  TEXT NOT NULL,
  day   TEXT NOT NULL,
  count INTEGER,
  until TEXT,
  other TEXT NOT NULL DEFAULT '',            -- where animals came from or went to
  text  TEXT NOT NULL DEFAULT '',
  void  INTEGER NOT NULL DEFAULT 0
) STRICT;
CREATE INDEX note_tank ON note (tank, day);

CREATE TABLE scoop (
  id             INTEGER PRIMARY KEY,
  tank           INTEGER NOT NULL REFERENCES tank(id),
  at             TEXT NOT NULL,
  who            TEXT NOT NULL,
  kept_apart     INTEGER NOT NULL DEFAULT 0,
  second_of      INTEGER REFERENCES scoop(id),   -- another photo of the same animals
  remark         TEXT NOT NULL DEFAULT '',
  import_label   TEXT,                           -- the scoop's name in an imported table
  photo_sha256   TEXT,
  photo_file     TEXT,
  photo_kept     INTEGER NOT NULL DEFAULT 0,     -- 1: the photo lies beside the book under its digest
  taken_at       TEXT,
  camera         TEXT,
  ladder         TEXT,
  ladder_sha256  TEXT,
  ground         TEXT,
  px_per_mm      REAL,
  netted_seconds INTEGER,
  doubts         TEXT NOT NULL DEFAULT '',       -- codes, a space between
  program        TEXT,
  void           INTEGER NOT NULL DEFAULT 0
) STRICT;
CREATE INDEX scoop_tank ON scoop (tank, at);
CREATE UNIQUE INDEX scoop_photo ON scoop (photo_sha256) WHERE void = 0 AND photo_sha256 IS NOT NULL;

-- Animals lie beside each other by scoop, so that a tank's past is read in few pages.
CREATE TABLE animal (
  scoop INTEGER NOT NULL REFERENCES scoop(id),
  no    INTEGER NOT NULL,
  sex   TEXT NOT NULL,
  sex_from TEXT NOT NULL,
  view  TEXT NOT NULL,
  place TEXT,                                -- x y width height, head x y, tail x y in pixels, a space between
  length_mm REAL,        u_length_mm REAL,
  coverage REAL,         u_coverage REAL,
  coverage_head REAL, coverage_middle REAL, coverage_tail REAL,
  opacity REAL,          u_opacity REAL,
  evenness REAL,         u_evenness REAL,
  clear_window REAL,     u_clear_window REAL,
  islands REAL,          u_islands REAL,
  lab TEXT, lab_abs TEXT,                    -- L* a* b*, a space between
  chroma REAL, hue_deg REAL,
  line_de00 REAL,        u_line_de00 REAL,
  wrong_hue_share REAL,  u_wrong_hue_share REAL,
  brown_share REAL,      u_brown_share REAL,
  legs REAL,             u_legs REAL,
  stripe REAL,           u_stripe REAL,
  clear_middle REAL,     u_clear_middle REAL,
  withheld TEXT NOT NULL DEFAULT '',         -- measure=code, a space between
  flags TEXT NOT NULL DEFAULT '',            -- words, a space between
  rung INTEGER, between_low INTEGER, between_high INTEGER,
  chances TEXT,                              -- of G0 to G5, a space between
  off_ladder TEXT,
  PRIMARY KEY (scoop, no)
) STRICT, WITHOUT ROWID;
CREATE INDEX animal_off_type ON animal (scoop) WHERE off_ladder = 'off_type';
