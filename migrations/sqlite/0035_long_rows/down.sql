DELETE FROM sqlite_stat1 WHERE idx IN
  ('follow_ups_outcome_due_on',
    'seed_payments_farm_id_date_amount_withdrawn_at',
    'seed_issues_farm_id_date_payment_price_kg_withdrawn_at');
DROP INDEX follow_ups_outcome_due_on;
DROP INDEX seed_payments_farm_id_date_amount_withdrawn_at;
DROP INDEX seed_issues_farm_id_date_payment_price_kg_withdrawn_at;
CREATE TABLE coop_snapshots_2 (
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
INSERT INTO coop_snapshots_2 (coop_id, revision, change_seq, made_at, day, format, next_at, day_ends_at, lease_until, lease, failed_at, body, findings)
  SELECT coop_id, revision, change_seq, made_at, day, format, next_at, day_ends_at, lease_until, lease, failed_at, body, findings FROM coop_snapshots;
DROP TABLE coop_snapshots;
ALTER TABLE coop_snapshots_2 RENAME TO coop_snapshots;
CREATE TABLE why_snapshots_2 (
  coop_id INTEGER NOT NULL PRIMARY KEY,
  day TEXT NOT NULL,
  format INTEGER NOT NULL,
  body TEXT NOT NULL,
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
INSERT INTO why_snapshots_2 (coop_id, day, format, body)
  SELECT coop_id, day, format, body FROM why_snapshots;
DROP TABLE why_snapshots;
ALTER TABLE why_snapshots_2 RENAME TO why_snapshots;
CREATE TABLE plan_learned_2 (
  coop_id INTEGER NOT NULL PRIMARY KEY,
  day TEXT NOT NULL,
  body TEXT NOT NULL,
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
INSERT INTO plan_learned_2 (coop_id, day, body)
  SELECT coop_id, day, body FROM plan_learned;
DROP TABLE plan_learned;
ALTER TABLE plan_learned_2 RENAME TO plan_learned;
CREATE TABLE farm_snapshots_2 (
  coop_id INTEGER NOT NULL,
  farm_id BLOB NOT NULL,
  revision INTEGER NOT NULL,
  body TEXT NOT NULL,
  PRIMARY KEY (coop_id, farm_id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id)
) STRICT, WITHOUT ROWID;
INSERT INTO farm_snapshots_2 (coop_id, farm_id, revision, body)
  SELECT coop_id, farm_id, revision, body FROM farm_snapshots;
DROP TABLE farm_snapshots;
ALTER TABLE farm_snapshots_2 RENAME TO farm_snapshots;
CREATE TABLE month_snapshots_2 (
  coop_id INTEGER NOT NULL,
  month INTEGER NOT NULL,
  digest INTEGER NOT NULL,
  body TEXT NOT NULL,
  divisions TEXT NOT NULL,
  PRIMARY KEY (coop_id, month),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
INSERT INTO month_snapshots_2 (coop_id, month, digest, divisions, body)
  SELECT coop_id, month, digest, divisions, body FROM month_snapshots;
DROP TABLE month_snapshots;
ALTER TABLE month_snapshots_2 RENAME TO month_snapshots;
CREATE TABLE import_wait_parts_2 (
  coop_id INTEGER NOT NULL,
  wait_id BLOB NOT NULL,
  file INTEGER NOT NULL,
  part INTEGER NOT NULL,
  name TEXT NOT NULL,
  content BLOB NOT NULL,
  PRIMARY KEY (coop_id, wait_id, file, part),
  FOREIGN KEY (coop_id, wait_id) REFERENCES import_waits (coop_id, id) ON DELETE CASCADE
) STRICT, WITHOUT ROWID;
INSERT INTO import_wait_parts_2 (coop_id, wait_id, file, part, name, content)
  SELECT coop_id, wait_id, file, part, name, content FROM import_wait_parts;
DROP TABLE import_wait_parts;
ALTER TABLE import_wait_parts_2 RENAME TO import_wait_parts;
CREATE TABLE month_closes_2 (
  coop_id INTEGER NOT NULL,
  month INTEGER NOT NULL,
  closed_at INTEGER NOT NULL,
  closed_by BLOB NOT NULL,
  report_json TEXT NOT NULL,
  report_csv TEXT NOT NULL,
  touched INTEGER NOT NULL,
  report_version INTEGER NOT NULL DEFAULT 1,
  PRIMARY KEY (coop_id, month),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
INSERT INTO month_closes_2 (coop_id, month, closed_at, closed_by, touched, report_version, report_json, report_csv)
  SELECT coop_id, month, closed_at, closed_by, touched, report_version, report_json, report_csv FROM month_closes;
CREATE TABLE frozen_months_2 (
  coop_id INTEGER NOT NULL,
  month INTEGER NOT NULL,
  body TEXT NOT NULL,
  PRIMARY KEY (coop_id, month),
  FOREIGN KEY (coop_id, month) REFERENCES month_closes_2 (coop_id, month)
) STRICT, WITHOUT ROWID;
INSERT INTO frozen_months_2 (coop_id, month, body)
  SELECT coop_id, month, body FROM frozen_months;
DROP TABLE frozen_months;
DROP TABLE month_closes;
ALTER TABLE month_closes_2 RENAME TO month_closes;
ALTER TABLE frozen_months_2 RENAME TO frozen_months;
DELETE FROM sqlite_stat1 WHERE tbl IN ('farm_snapshots', 'month_snapshots', 'month_closes', 'import_wait_parts', 'plan_learned');
INSERT INTO sqlite_stat1 VALUES
  ('farm_snapshots', 'farm_snapshots', '2000 2000 1'),
  ('month_snapshots', 'month_snapshots', '100 100 1'),
  ('month_closes', 'month_closes', '100 100 1'),
  ('import_wait_parts', 'import_wait_parts', '50 50 5 2 1'),
  ('plan_learned', 'plan_learned', '1000 1');
