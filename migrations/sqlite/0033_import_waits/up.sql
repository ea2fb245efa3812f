-- Files that were looked through and wait to be taken, so that another server can take them: their
-- bytes in parts, how they are read, and what became of them. Kept for half an hour.
CREATE TABLE import_waits (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  person_id BLOB NOT NULL,
  touched_at INTEGER NOT NULL,
  state TEXT NOT NULL CHECK (state IN ('waits', 'runs', 'done', 'failed')),
  rows_read INTEGER NOT NULL,
  rows_all INTEGER NOT NULL,
  layouts TEXT NOT NULL,
  outcomes TEXT NOT NULL,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
CREATE TABLE import_wait_parts (
  coop_id INTEGER NOT NULL,
  wait_id BLOB NOT NULL,
  file INTEGER NOT NULL,
  part INTEGER NOT NULL,
  name TEXT NOT NULL,
  content BLOB NOT NULL,
  PRIMARY KEY (coop_id, wait_id, file, part),
  FOREIGN KEY (coop_id, wait_id) REFERENCES import_waits (coop_id, id) ON DELETE CASCADE
) STRICT, WITHOUT ROWID;
INSERT INTO sqlite_stat1 VALUES ('import_waits', 'import_waits', '10 10 1');
INSERT INTO sqlite_stat1 VALUES ('import_wait_parts', 'import_wait_parts', '50 50 5 2 1');
