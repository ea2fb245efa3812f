-- Text messages of members. `text_numbers` says whose a telephone number is and what it may hear;
-- `texts_in` holds what came, `texts_out` what is to be sent, `text_turns` what was said last with
-- a number, `text_records` which records a text made.
CREATE TABLE text_numbers (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  number TEXT NOT NULL,
  member_id BLOB NOT NULL,
  farm_id BLOB,
  state TEXT NOT NULL,
  language TEXT NOT NULL,
  answers INTEGER NOT NULL CHECK (answers IN (0, 1)),
  reminders INTEGER NOT NULL CHECK (reminders IN (0, 1)),
  cautions INTEGER NOT NULL CHECK (cautions IN (0, 1)),
  money INTEGER NOT NULL CHECK (money IN (0, 1)),
  consent_on TEXT NOT NULL,
  code_hash TEXT,
  code_until INTEGER,
  code_tries INTEGER NOT NULL,
  verified_at INTEGER,
  chosen_at INTEGER,
  heard_at INTEGER,
  made_by BLOB NOT NULL,
  made_at INTEGER NOT NULL,
  ended_at INTEGER,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, member_id) REFERENCES members (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id)
) STRICT, WITHOUT ROWID;
CREATE INDEX text_numbers_number ON text_numbers (coop_id, number, id);
CREATE TABLE texts_in (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  carrier TEXT NOT NULL,
  carrier_id TEXT NOT NULL,
  content_key TEXT NOT NULL,
  number TEXT NOT NULL,
  is_known INTEGER NOT NULL CHECK (is_known IN (0, 1)),
  sent_at INTEGER,
  taken_at INTEGER NOT NULL,
  body TEXT,
  outcome TEXT NOT NULL,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX texts_in_content ON texts_in (coop_id, content_key, taken_at);
CREATE INDEX texts_in_taken ON texts_in (coop_id, taken_at, id);
CREATE TABLE texts_out (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  seq INTEGER NOT NULL,
  number TEXT NOT NULL,
  body TEXT,
  purpose TEXT NOT NULL,
  dedup_key TEXT NOT NULL,
  segments INTEGER NOT NULL,
  state TEXT NOT NULL,
  not_before INTEGER NOT NULL,
  expires_at INTEGER NOT NULL,
  made_at INTEGER NOT NULL,
  tries INTEGER NOT NULL,
  lease_until INTEGER,
  carrier TEXT,
  settled_at INTEGER,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX texts_out_dedup ON texts_out (coop_id, dedup_key);
CREATE INDEX texts_out_due ON texts_out (coop_id, state, not_before, seq);
CREATE INDEX texts_out_number ON texts_out (coop_id, number, state, seq);
CREATE INDEX texts_out_made ON texts_out (coop_id, made_at, id);
CREATE TABLE text_turns (
  coop_id INTEGER NOT NULL,
  number TEXT NOT NULL,
  pending TEXT,
  pending_at INTEGER,
  list TEXT,
  list_on TEXT,
  last TEXT,
  last_at INTEGER,
  recent TEXT,
  day TEXT NOT NULL,
  records INTEGER NOT NULL,
  answers INTEGER NOT NULL,
  undos INTEGER NOT NULL,
  PRIMARY KEY (coop_id, number),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
CREATE TABLE text_records (
  coop_id INTEGER NOT NULL,
  kind TEXT NOT NULL,
  id BLOB NOT NULL,
  version INTEGER NOT NULL,
  text_id BLOB NOT NULL,
  PRIMARY KEY (coop_id, kind, id, version),
  FOREIGN KEY (coop_id, text_id) REFERENCES texts_in (coop_id, id)
) STRICT, WITHOUT ROWID;
CREATE INDEX text_records_text ON text_records (coop_id, text_id);
INSERT INTO sqlite_stat1 VALUES ('text_numbers', 'text_numbers', '10000 10000 1');
INSERT INTO sqlite_stat1 VALUES ('text_numbers', 'text_numbers_number', '10000 10000 2 1');
INSERT INTO sqlite_stat1 VALUES ('texts_in', 'texts_in', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('texts_in', 'texts_in_content', '1000000 1000000 1 1');
INSERT INTO sqlite_stat1 VALUES ('texts_in', 'texts_in_taken', '1000000 1000000 2 1');
INSERT INTO sqlite_stat1 VALUES ('texts_out', 'texts_out', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('texts_out', 'texts_out_dedup', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('texts_out', 'texts_out_due', '1000000 1000000 200000 2 1');
INSERT INTO sqlite_stat1 VALUES ('texts_out', 'texts_out_number', '1000000 1000000 100 50 1');
INSERT INTO sqlite_stat1 VALUES ('texts_out', 'texts_out_made', '1000000 1000000 2 1');
INSERT INTO sqlite_stat1 VALUES ('text_turns', 'text_turns', '10000 10000 1');
INSERT INTO sqlite_stat1 VALUES ('text_records', 'text_records', '500000 500000 100000 1 1');
INSERT INTO sqlite_stat1 VALUES ('text_records', 'text_records_text', '500000 500000 2');
