CREATE TABLE reported_savings_1 (
  coop_id INTEGER NOT NULL,
  month INTEGER NOT NULL,
  farm_id BLOB NOT NULL,
  reported_in INTEGER NOT NULL,
  saving_minor INTEGER,
  PRIMARY KEY (coop_id, month, farm_id, reported_in),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id)
) STRICT, WITHOUT ROWID;
INSERT INTO reported_savings_1
  SELECT coop_id, month, farm_id, reported_in, saving_minor FROM reported_savings WHERE method = 1;
DROP TABLE reported_savings;
ALTER TABLE reported_savings_1 RENAME TO reported_savings;
DELETE FROM sqlite_stat1 WHERE tbl IN ('reported_savings', 'month_snapshots', 'farm_baselines');
INSERT INTO sqlite_stat1 VALUES ('reported_savings', 'reported_savings', '100000 100000 2000 2 1');
DROP TABLE farm_baselines;
DROP TABLE frozen_months;
DROP TABLE month_snapshots;
