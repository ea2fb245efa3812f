CREATE TABLE calendar_links_new (
  secret_hash TEXT NOT NULL,
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  farm_id BLOB NOT NULL,
  person_id BLOB NOT NULL,
  made_at INTEGER NOT NULL,
  revoked_at INTEGER,
  PRIMARY KEY (secret_hash),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id, person_id) REFERENCES people (coop_id, id)
) STRICT, WITHOUT ROWID;
INSERT INTO calendar_links_new (secret_hash, coop_id, id, farm_id, person_id, made_at, revoked_at) SELECT secret_hash, coop_id, id, farm_id, person_id, made_at, revoked_at FROM calendar_links;
DROP TABLE calendar_links;
ALTER TABLE calendar_links_new RENAME TO calendar_links;
CREATE INDEX calendar_links_farm ON calendar_links (coop_id, farm_id, id);
CREATE TABLE invitations_new (
  code_hash TEXT NOT NULL,
  coop_id INTEGER NOT NULL,
  person_id BLOB NOT NULL,
  expires_at INTEGER NOT NULL,
  used_at INTEGER,
  PRIMARY KEY (code_hash),
  FOREIGN KEY (coop_id, person_id) REFERENCES people (coop_id, id)
) STRICT, WITHOUT ROWID;
INSERT INTO invitations_new (code_hash, coop_id, person_id, expires_at, used_at) SELECT code_hash, coop_id, person_id, expires_at, used_at FROM invitations;
DROP TABLE invitations;
ALTER TABLE invitations_new RENAME TO invitations;
CREATE TABLE sign_ins_new (
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
INSERT INTO sign_ins_new (family_id, coop_id, person_id, begun_at, seen_at, device, proved_at) SELECT family_id, coop_id, person_id, begun_at, seen_at, device, proved_at FROM sign_ins;
DROP TABLE sign_ins;
ALTER TABLE sign_ins_new RENAME TO sign_ins;
CREATE INDEX sign_ins_person ON sign_ins (coop_id, person_id);
CREATE TABLE session_people (
  family_id BLOB NOT NULL,
  coop_id INTEGER NOT NULL,
  person_id BLOB NOT NULL,
  PRIMARY KEY (family_id, coop_id, person_id),
  FOREIGN KEY (coop_id, person_id) REFERENCES people (coop_id, id)
) STRICT, WITHOUT ROWID;
INSERT INTO session_people (family_id, coop_id, person_id)
SELECT family_id, other_coop_id, person_id FROM sign_in_people;
DROP TABLE sign_in_people;
CREATE TABLE sessions_new (
  token_hash TEXT NOT NULL,
  family_id BLOB NOT NULL,
  coop_id INTEGER NOT NULL,
  person_id BLOB NOT NULL,
  expires_at INTEGER NOT NULL,
  used_at INTEGER,
  ended_at INTEGER,
  PRIMARY KEY (token_hash),
  FOREIGN KEY (coop_id, person_id) REFERENCES people (coop_id, id)
) STRICT, WITHOUT ROWID;
INSERT INTO sessions_new (token_hash, family_id, coop_id, person_id, expires_at, used_at, ended_at) SELECT token_hash, family_id, coop_id, person_id, expires_at, used_at, ended_at FROM sessions;
DROP TABLE sessions;
ALTER TABLE sessions_new RENAME TO sessions;
CREATE INDEX sessions_family ON sessions (family_id);
CREATE INDEX sessions_person ON sessions (coop_id, person_id);
CREATE INDEX people_email ON people (email);
CREATE INDEX people_phone ON people (phone);
DROP TABLE logins;
CREATE UNIQUE INDEX cooperatives_id_key ON cooperatives (id);
DROP TABLE coop_directory;
