-- The savings report of every open month as it was last made: one row a month, with what programme
-- readers see of its divisions.
CREATE TABLE month_snapshots (
  coop_id INTEGER NOT NULL,
  month INTEGER NOT NULL,
  digest INTEGER NOT NULL,
  body TEXT NOT NULL,
  divisions TEXT NOT NULL,
  PRIMARY KEY (coop_id, month),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
-- What a close froze: prices and the index of the month, and the baseline of each farm, anew where
-- records before its start have changed since.
CREATE TABLE frozen_months (
  coop_id INTEGER NOT NULL,
  month INTEGER NOT NULL,
  body TEXT NOT NULL,
  PRIMARY KEY (coop_id, month),
  FOREIGN KEY (coop_id, month) REFERENCES month_closes (coop_id, month)
) STRICT, WITHOUT ROWID;
CREATE TABLE farm_baselines (
  coop_id INTEGER NOT NULL,
  farm_id BLOB NOT NULL,
  enterprise TEXT NOT NULL,
  frozen_in INTEGER NOT NULL,
  body TEXT NOT NULL,
  PRIMARY KEY (coop_id, farm_id, enterprise, frozen_in),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id)
) STRICT, WITHOUT ROWID;
-- What was reported, by class of animal and method. Method 1 kept differences, method 2 keeps what
-- was said last.
CREATE TABLE reported_savings_2 (
  coop_id INTEGER NOT NULL,
  month INTEGER NOT NULL,
  farm_id BLOB NOT NULL,
  enterprise TEXT NOT NULL,
  reported_in INTEGER NOT NULL,
  method INTEGER NOT NULL,
  saving_minor INTEGER,
  baseline_minor INTEGER,
  PRIMARY KEY (coop_id, month, farm_id, enterprise, reported_in),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id)
) STRICT, WITHOUT ROWID;
INSERT INTO reported_savings_2
  SELECT coop_id, month, farm_id, '', reported_in, 1, saving_minor, NULL FROM reported_savings;
DROP TABLE reported_savings;
ALTER TABLE reported_savings_2 RENAME TO reported_savings;
DELETE FROM sqlite_stat1 WHERE tbl = 'reported_savings';
INSERT INTO sqlite_stat1 VALUES
  ('reported_savings', 'reported_savings', '100000 100000 2000 2 2 1'),
  ('month_snapshots', 'month_snapshots', '100 100 1'),
  ('farm_baselines', 'farm_baselines', '2000 2000 2 1 1');
