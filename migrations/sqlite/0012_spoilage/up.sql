-- Trays as spoilage counts them: batches of any size, also those never spread, with the reason where
-- one is not counted. The program fills the table at its first start.
DROP TABLE batch_trays;
CREATE TABLE batch_trays (
  coop_id INTEGER NOT NULL,
  last_at INTEGER NOT NULL,
  batch_id BLOB NOT NULL,
  farm_id BLOB NOT NULL,
  shed_id BLOB NOT NULL,
  lot_id BLOB,
  soaked_at INTEGER,
  seed_g INTEGER NOT NULL,
  soaked_for INTEGER,
  spread INTEGER,
  before_spread INTEGER NOT NULL,
  discarded INTEGER NOT NULL,
  harvested INTEGER NOT NULL,
  harvested_g INTEGER,
  thrown_g INTEGER NOT NULL,
  harvested_at INTEGER,
  ended_at INTEGER,
  germinated INTEGER,
  begun INTEGER,
  lost INTEGER,
  not_counted TEXT,
  PRIMARY KEY (coop_id, last_at, batch_id),
  FOREIGN KEY (coop_id, batch_id) REFERENCES batches (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id)
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX batch_trays_batch ON batch_trays (coop_id, batch_id);
CREATE INDEX batch_trays_farm ON batch_trays (coop_id, farm_id, last_at, batch_id);
DELETE FROM sqlite_stat1 WHERE tbl = 'batch_trays';
INSERT INTO sqlite_stat1 VALUES
  ('batch_trays', 'batch_trays', '100000 100000 2 1'),
  ('batch_trays', 'batch_trays_batch', '100000 100000 1'),
  ('batch_trays', 'batch_trays_farm', '100000 100000 50 1 1');

-- SQLite changes a CHECK by making the table anew.
ALTER TABLE flags RENAME TO old_flags;
DROP INDEX flags_order;
DROP INDEX flags_farm_order;
DROP INDEX flags_batch_id;
CREATE TABLE flags (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  farm_id BLOB NOT NULL,
  batch_id BLOB,
  raised_on TEXT NOT NULL,
  points_at TEXT NOT NULL CHECK (points_at IN ('farm', 'farm_or_lot', 'seed_lot', 'not_known')),
  evidence TEXT NOT NULL,
  seen_on TEXT,
  cause TEXT CHECK (cause IN ('mould', 'rot_at_drain_end', 'poor_germination', 'dried_out', 'pests', 'left_too_long', 'other')),
  finding TEXT,
  cleared_on TEXT,
  version INTEGER NOT NULL,
  created_at INTEGER NOT NULL,
  created_by BLOB NOT NULL,
  changed_at INTEGER NOT NULL,
  changed_by BLOB NOT NULL,
  withdrawn_at INTEGER,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id, batch_id) REFERENCES batches (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
INSERT INTO flags (coop_id, id, farm_id, batch_id, raised_on, points_at, evidence, seen_on, cause, finding, cleared_on, version, created_at, created_by, changed_at, changed_by, withdrawn_at) SELECT coop_id, id, farm_id, batch_id, raised_on, points_at, evidence, seen_on, cause, finding, cleared_on, version, created_at, created_by, changed_at, changed_by, withdrawn_at FROM old_flags;
DROP TABLE old_flags;
CREATE INDEX flags_order ON flags (coop_id, raised_on, id);
CREATE INDEX flags_farm_order ON flags (coop_id, farm_id, raised_on, id);
CREATE INDEX flags_batch_id ON flags (coop_id, batch_id, id);
DELETE FROM sqlite_stat1 WHERE tbl IN ('flags', 'old_flags');
INSERT INTO sqlite_stat1 VALUES
  ('flags', 'flags', '1000000 1000000 1'),
  ('flags', 'flags_order', '1000000 1000000 1000 1'),
  ('flags', 'flags_farm_order', '1000000 1000000 500 3 1'),
  ('flags', 'flags_batch_id', '1000000 1000000 10 1');

-- What goes with losses: made with the first of the day, a row a co-operative.
CREATE TABLE why_snapshots (
  coop_id INTEGER NOT NULL PRIMARY KEY,
  day TEXT NOT NULL,
  format INTEGER NOT NULL,
  body TEXT NOT NULL,
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;

-- Months of the wet season, in which more trays may spoil; none: not compared.
ALTER TABLE cooperatives ADD COLUMN wet_months TEXT;
