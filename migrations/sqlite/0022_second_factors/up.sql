-- Sign-ins as their owner sees them: since when, last seen, on what, and when a second factor was
-- proved last. Those of an older program begin with their first token.
CREATE TABLE sign_ins (
  family_id BLOB NOT NULL,
  coop_id INTEGER NOT NULL,
  person_id BLOB NOT NULL,
  begun_at INTEGER NOT NULL,
  seen_at INTEGER NOT NULL,
  device TEXT NOT NULL,
  proved_at INTEGER,
  PRIMARY KEY (family_id),
  FOREIGN KEY (coop_id, person_id) REFERENCES people (coop_id, id)
) STRICT, WITHOUT ROWID;
CREATE INDEX sign_ins_person ON sign_ins (coop_id, person_id);
INSERT INTO sign_ins (family_id, coop_id, person_id, begun_at, seen_at, device)
SELECT family_id, coop_id, person_id, MIN(expires_at) - 2592000000, MAX(expires_at) - 2592000000, 'unknown'
  FROM sessions GROUP BY family_id, coop_id, person_id HAVING MAX(ended_at) IS NULL;
-- The secret of a person's second factor, sealed by a key that is not in the database. It counts
-- once a code was given.
CREATE TABLE second_factors (
  coop_id INTEGER NOT NULL,
  person_id BLOB NOT NULL,
  sealed TEXT NOT NULL,
  confirmed_at INTEGER,
  last_step INTEGER NOT NULL,
  PRIMARY KEY (coop_id, person_id),
  FOREIGN KEY (coop_id, person_id) REFERENCES people (coop_id, id)
) STRICT, WITHOUT ROWID;
CREATE TABLE recovery_codes (
  coop_id INTEGER NOT NULL,
  person_id BLOB NOT NULL,
  code_hash TEXT NOT NULL,
  PRIMARY KEY (coop_id, person_id, code_hash),
  FOREIGN KEY (coop_id, person_id) REFERENCES people (coop_id, id)
) STRICT, WITHOUT ROWID;
-- What somebody else did to a person's sign-in, until the person has seen it.
CREATE TABLE sign_in_notices (
  coop_id INTEGER NOT NULL,
  person_id BLOB NOT NULL,
  at INTEGER NOT NULL,
  by_name TEXT NOT NULL,
  PRIMARY KEY (coop_id, person_id),
  FOREIGN KEY (coop_id, person_id) REFERENCES people (coop_id, id)
) STRICT, WITHOUT ROWID;
INSERT INTO sqlite_stat1 VALUES ('sign_ins', 'sign_ins', '100000 1');
INSERT INTO sqlite_stat1 VALUES ('sign_ins', 'sign_ins_person', '100000 10000 3 1');
INSERT INTO sqlite_stat1 VALUES ('second_factors', 'second_factors', '1000 1000 1');
INSERT INTO sqlite_stat1 VALUES ('recovery_codes', 'recovery_codes', '10000 10000 10 1');
INSERT INTO sqlite_stat1 VALUES ('sign_in_notices', 'sign_in_notices', '1000 1000 1');
