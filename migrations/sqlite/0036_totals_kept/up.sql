-- total: what a month came to, JSON. A page of twelve months reads it instead of twelve reports.
CREATE TABLE month_snapshots_2 (
  coop_id INTEGER NOT NULL,
  month INTEGER NOT NULL,
  digest INTEGER NOT NULL,
  total TEXT NOT NULL,
  divisions TEXT NOT NULL,
  body TEXT NOT NULL,
  PRIMARY KEY (coop_id, month),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT;
INSERT INTO month_snapshots_2 (coop_id, month, digest, total, divisions, body)
  SELECT coop_id, month, digest, '', divisions, body FROM month_snapshots;
DROP TABLE month_snapshots;
ALTER TABLE month_snapshots_2 RENAME TO month_snapshots;
-- What a farm was charged and paid for seed, all days together.
CREATE TABLE seed_accounts (
  coop_id INTEGER NOT NULL,
  farm_id BLOB NOT NULL,
  credit_minor INTEGER NOT NULL,
  paid_at_once_minor INTEGER NOT NULL,
  unpriced INTEGER NOT NULL,
  issued_g INTEGER NOT NULL,
  paid_minor INTEGER NOT NULL,
  PRIMARY KEY (coop_id, farm_id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id)
) STRICT, WITHOUT ROWID;
INSERT INTO seed_accounts (coop_id, farm_id, credit_minor, paid_at_once_minor, unpriced, issued_g, paid_minor)
  SELECT coop_id, farm_id, SUM(credit), SUM(at_once), SUM(unpriced), SUM(grams), SUM(paid) FROM (
    SELECT coop_id, farm_id,
      CASE WHEN payment = 'credit' THEN COALESCE(price, 0) ELSE 0 END AS credit,
      CASE WHEN payment = 'credit' THEN 0 ELSE COALESCE(price, 0) END AS at_once,
      CASE WHEN price IS NULL THEN 1 ELSE 0 END AS unpriced,
      kg AS grams, 0 AS paid
    FROM seed_issues WHERE withdrawn_at IS NULL
    UNION ALL
    SELECT coop_id, farm_id, 0, 0, 0, 0, amount FROM seed_payments WHERE withdrawn_at IS NULL
  ) GROUP BY coop_id, farm_id;
DELETE FROM sqlite_stat1 WHERE tbl IN ('month_snapshots', 'seed_accounts');
INSERT INTO sqlite_stat1 VALUES
  ('month_snapshots', 'sqlite_autoindex_month_snapshots_1', '100 100 1'),
  ('seed_accounts', 'seed_accounts', '2000 2000 1');
