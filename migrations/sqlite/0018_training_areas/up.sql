-- A training is for the members of an area. SQLite adds a reference of two columns by making the
-- table anew, and with it the table that names it.
ALTER TABLE attendances RENAME TO old_attendances;
ALTER TABLE trainings RENAME TO old_trainings;
DROP INDEX attendances_training_id;
DROP INDEX trainings_code_key;
DROP INDEX trainings_order;
CREATE TABLE trainings (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  code TEXT NOT NULL,
  topic TEXT NOT NULL,
  date TEXT NOT NULL,
  place TEXT,
  area_id BLOB,
  trainer_id BLOB,
  note TEXT,
  version INTEGER NOT NULL,
  created_at INTEGER NOT NULL,
  created_by BLOB NOT NULL,
  changed_at INTEGER NOT NULL,
  changed_by BLOB NOT NULL,
  withdrawn_at INTEGER,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, area_id) REFERENCES areas (coop_id, id),
  FOREIGN KEY (coop_id, trainer_id) REFERENCES people (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
INSERT INTO trainings (coop_id, id, code, topic, date, place, trainer_id, note, version, created_at, created_by, changed_at, changed_by, withdrawn_at) SELECT coop_id, id, code, topic, date, place, trainer_id, note, version, created_at, created_by, changed_at, changed_by, withdrawn_at FROM old_trainings;
CREATE TABLE attendances (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  training_id BLOB NOT NULL,
  member_id BLOB NOT NULL,
  version INTEGER NOT NULL,
  created_at INTEGER NOT NULL,
  created_by BLOB NOT NULL,
  changed_at INTEGER NOT NULL,
  changed_by BLOB NOT NULL,
  withdrawn_at INTEGER,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, training_id) REFERENCES trainings (coop_id, id),
  FOREIGN KEY (coop_id, member_id) REFERENCES members (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
INSERT INTO attendances (coop_id, id, training_id, member_id, version, created_at, created_by, changed_at, changed_by, withdrawn_at) SELECT coop_id, id, training_id, member_id, version, created_at, created_by, changed_at, changed_by, withdrawn_at FROM old_attendances;
DROP TABLE old_attendances;
DROP TABLE old_trainings;
CREATE UNIQUE INDEX trainings_code_key ON trainings (coop_id, code) WHERE withdrawn_at IS NULL;
CREATE INDEX trainings_order ON trainings (coop_id, date, id);
CREATE INDEX attendances_training_id ON attendances (coop_id, training_id, id);
DELETE FROM sqlite_stat1 WHERE tbl IN ('trainings', 'attendances', 'old_trainings', 'old_attendances');
INSERT INTO sqlite_stat1 VALUES ('trainings', 'trainings', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('trainings', 'trainings_code_key', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('trainings', 'trainings_order', '1000000 1000000 1000 1');
INSERT INTO sqlite_stat1 VALUES ('attendances', 'attendances', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('attendances', 'attendances_training_id', '1000000 1000000 10 1');
