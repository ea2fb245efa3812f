-- Files that are being written slice by slice, and what was made of them: one that breaks off is
-- undone by these rows, and what was undone comes back when the file comes again.
CREATE TABLE import_runs (
  coop_id INTEGER NOT NULL,
  run_id BLOB NOT NULL,
  touched_at INTEGER NOT NULL,
  undone INTEGER NOT NULL CHECK (undone IN (0, 1)),
  PRIMARY KEY (coop_id, run_id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
CREATE TABLE import_rows (
  coop_id INTEGER NOT NULL,
  kind TEXT NOT NULL,
  id BLOB NOT NULL,
  run_id BLOB NOT NULL,
  seq INTEGER NOT NULL,
  undone INTEGER NOT NULL CHECK (undone IN (0, 1)),
  PRIMARY KEY (coop_id, kind, id),
  FOREIGN KEY (coop_id, run_id) REFERENCES import_runs (coop_id, run_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX import_rows_run ON import_rows (coop_id, run_id, undone, seq);
INSERT INTO sqlite_stat1 VALUES ('import_runs', 'import_runs', '10 10 1');
INSERT INTO sqlite_stat1 VALUES ('import_rows', 'import_rows', '1000000 1000000 100000 1');
INSERT INTO sqlite_stat1 VALUES ('import_rows', 'import_rows_run', '1000000 1000000 10000 5000 1');
