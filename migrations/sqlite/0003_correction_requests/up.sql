CREATE TABLE correction_requests (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  farm_id BLOB NOT NULL,
  about TEXT NOT NULL CHECK (about IN ('batch', 'milk', 'eggs', 'feed', 'seed', 'money', 'animals', 'visit', 'other')),
  batch_id BLOB,
  asked_on TEXT NOT NULL,
  wish TEXT NOT NULL,
  answer TEXT,
  answered_on TEXT,
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
CREATE INDEX correction_requests_order ON correction_requests (coop_id, asked_on, id);
CREATE INDEX correction_requests_farm_order ON correction_requests (coop_id, farm_id, asked_on, id);
INSERT INTO sqlite_stat1 VALUES ('correction_requests', 'correction_requests', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('correction_requests', 'correction_requests_order', '1000000 1000000 1000 1');
INSERT INTO sqlite_stat1 VALUES ('correction_requests', 'correction_requests_farm_order', '1000000 1000000 500 3 1');
