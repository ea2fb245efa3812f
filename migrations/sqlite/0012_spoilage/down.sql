ALTER TABLE cooperatives DROP COLUMN wet_months;
DROP TABLE why_snapshots;
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
  points_at TEXT NOT NULL CHECK (points_at IN ('farm', 'seed_lot', 'not_known')),
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
INSERT INTO flags (coop_id, id, farm_id, batch_id, raised_on, points_at, evidence, seen_on, cause, finding, cleared_on, version, created_at, created_by, changed_at, changed_by, withdrawn_at) SELECT coop_id, id, farm_id, batch_id, raised_on, CASE WHEN points_at = 'farm_or_lot' THEN 'not_known' ELSE points_at END, evidence, seen_on, cause, finding, cleared_on, version, created_at, created_by, changed_at, changed_by, withdrawn_at FROM old_flags;
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
DELETE FROM sqlite_stat1 WHERE tbl = 'batch_trays';
DROP TABLE batch_trays;
CREATE TABLE batch_trays (
  coop_id INTEGER NOT NULL,
  soaked_at INTEGER NOT NULL,
  batch_id BLOB NOT NULL,
  farm_id BLOB NOT NULL,
  lot_id BLOB,
  spread INTEGER NOT NULL,
  harvested INTEGER NOT NULL,
  discarded INTEGER NOT NULL,
  PRIMARY KEY (coop_id, soaked_at, batch_id),
  FOREIGN KEY (coop_id, batch_id) REFERENCES batches (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id)
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX batch_trays_batch ON batch_trays (coop_id, batch_id);
CREATE INDEX batch_trays_farm ON batch_trays (coop_id, farm_id, soaked_at, batch_id);
INSERT INTO batch_trays
  (coop_id, soaked_at, batch_id, farm_id, lot_id, spread, harvested, discarded)
SELECT b.coop_id, e.soaked_at, b.id, b.farm_id, b.seed_lot_id, e.spread, e.harvested, e.discarded
  FROM (SELECT coop_id, batch_id,
               MIN(CASE WHEN event = 'soaked' THEN at END) AS soaked_at,
               CAST(SUM(CASE WHEN event = 'spread' THEN COALESCE(trays, 0) ELSE 0 END) AS BIGINT)
                 AS spread,
               CAST(SUM(CASE WHEN event = 'harvested' THEN COALESCE(trays, 0) ELSE 0 END) AS BIGINT)
                 AS harvested,
               CAST(SUM(CASE WHEN event = 'discarded' THEN COALESCE(trays, 0) ELSE 0 END) AS BIGINT)
                 AS discarded
          FROM batch_events WHERE withdrawn_at IS NULL GROUP BY coop_id, batch_id) e
  JOIN batches b ON b.coop_id = e.coop_id AND b.id = e.batch_id
 WHERE b.withdrawn_at IS NULL AND e.soaked_at IS NOT NULL AND e.spread > 0;
INSERT INTO sqlite_stat1 VALUES ('batch_trays', 'batch_trays', '100000 100000 2 1');
INSERT INTO sqlite_stat1 VALUES ('batch_trays', 'batch_trays_batch', '100000 100000 1');
INSERT INTO sqlite_stat1 VALUES ('batch_trays', 'batch_trays_farm', '100000 100000 50 1 1');
