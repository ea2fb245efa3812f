-- One revision a co-operative: it moves with everything that an answer can show.
ALTER TABLE coop_counters ADD COLUMN revision INTEGER NOT NULL DEFAULT 0;
UPDATE coop_counters SET revision = change_seq;
-- The estimates as they were last made: one row a co-operative, with the lease of whoever makes
-- them, and one row a farm.
CREATE TABLE coop_snapshots (
  coop_id INTEGER NOT NULL PRIMARY KEY,
  revision INTEGER,
  change_seq INTEGER,
  made_at INTEGER,
  day TEXT,
  format INTEGER,
  body TEXT,
  findings TEXT,
  next_at INTEGER NOT NULL,
  day_ends_at INTEGER NOT NULL,
  lease_until INTEGER NOT NULL,
  lease BLOB,
  failed_at INTEGER,
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
CREATE TABLE farm_snapshots (
  coop_id INTEGER NOT NULL,
  farm_id BLOB NOT NULL,
  revision INTEGER NOT NULL,
  body TEXT NOT NULL,
  PRIMARY KEY (coop_id, farm_id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id)
) STRICT, WITHOUT ROWID;
INSERT INTO sqlite_stat1 VALUES ('farm_snapshots', 'farm_snapshots', '2000 2000 1');
