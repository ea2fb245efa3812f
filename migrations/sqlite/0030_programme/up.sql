-- Sums of a month by group of members who agreed to be counted, a row a figure, written when figures
-- are made: so that one statement adds up many co-operatives. `people` are behind the figure, `top` and
-- `bottom` its sums, `half` the half width of its 95 % interval. Hidden is what the co-operative's own
-- table hides.
CREATE TABLE programme_cells (
  coop_id INTEGER NOT NULL,
  month INTEGER NOT NULL,
  division TEXT NOT NULL,
  cell TEXT NOT NULL,
  figure TEXT NOT NULL,
  currency TEXT NOT NULL,
  people INTEGER NOT NULL,
  is_hidden INTEGER NOT NULL CHECK (is_hidden IN (0, 1)),
  top INTEGER NOT NULL,
  bottom INTEGER NOT NULL,
  half INTEGER,
  PRIMARY KEY (coop_id, month, division, cell, figure),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX programme_cells_month ON programme_cells (month, division, coop_id);
-- Who may read the sums of which co-operative, until when; of all where none is named.
CREATE TABLE programme_grants (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  person_id BLOB NOT NULL,
  of_coop_id INTEGER,
  given_at INTEGER NOT NULL,
  given_by TEXT NOT NULL,
  until TEXT NOT NULL,
  ended_at INTEGER,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, person_id) REFERENCES people (coop_id, id)
) STRICT, WITHOUT ROWID;
