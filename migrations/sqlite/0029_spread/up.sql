-- So that tables can be spread over several machines by co-operative: every key begins with the
-- column by which its table is spread. Logins are spread by login; the directory stands everywhere.
CREATE TABLE coop_directory (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  PRIMARY KEY (coop_id)
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX coop_directory_id ON coop_directory (id);
INSERT INTO coop_directory (coop_id, id) SELECT coop_id, id FROM cooperatives;
DROP INDEX cooperatives_id_key;
CREATE TABLE logins (
  login TEXT NOT NULL,
  coop_id INTEGER NOT NULL,
  person_id BLOB NOT NULL,
  PRIMARY KEY (login, coop_id, person_id)
) STRICT, WITHOUT ROWID;
INSERT INTO logins (login, coop_id, person_id)
SELECT email, coop_id, id FROM people WHERE email IS NOT NULL AND withdrawn_at IS NULL
UNION SELECT phone, coop_id, id FROM people WHERE phone IS NOT NULL AND withdrawn_at IS NULL;
DROP INDEX people_email;
DROP INDEX people_phone;
CREATE TABLE sessions_new (
  token_hash TEXT NOT NULL,
  family_id BLOB NOT NULL,
  coop_id INTEGER NOT NULL,
  person_id BLOB NOT NULL,
  expires_at INTEGER NOT NULL,
  used_at INTEGER,
  ended_at INTEGER,
  PRIMARY KEY (coop_id, token_hash),
  FOREIGN KEY (coop_id, person_id) REFERENCES people (coop_id, id)
) STRICT, WITHOUT ROWID;
INSERT INTO sessions_new (token_hash, family_id, coop_id, person_id, expires_at, used_at, ended_at) SELECT token_hash, family_id, coop_id, person_id, expires_at, used_at, ended_at FROM sessions;
DROP TABLE sessions;
ALTER TABLE sessions_new RENAME TO sessions;
CREATE INDEX sessions_family ON sessions (coop_id, family_id);
CREATE INDEX sessions_person ON sessions (coop_id, person_id);
-- Secrets of an older program do not name their co-operative.
CREATE INDEX sessions_token ON sessions (token_hash);
-- Beside its sign-in, in the co-operative of that.
CREATE TABLE sign_in_people (
  coop_id INTEGER NOT NULL,
  family_id BLOB NOT NULL,
  other_coop_id INTEGER NOT NULL,
  person_id BLOB NOT NULL,
  PRIMARY KEY (coop_id, family_id, other_coop_id, person_id)
) STRICT, WITHOUT ROWID;
INSERT INTO sign_in_people (coop_id, family_id, other_coop_id, person_id)
SELECT i.coop_id, i.family_id, p.coop_id, p.person_id FROM session_people p
JOIN sign_ins i ON i.family_id = p.family_id;
DROP TABLE session_people;
CREATE TABLE sign_ins_new (
  family_id BLOB NOT NULL,
  coop_id INTEGER NOT NULL,
  person_id BLOB NOT NULL,
  begun_at INTEGER NOT NULL,
  seen_at INTEGER NOT NULL,
  device TEXT NOT NULL,
  proved_at INTEGER,
  PRIMARY KEY (coop_id, family_id),
  FOREIGN KEY (coop_id, person_id) REFERENCES people (coop_id, id)
) STRICT, WITHOUT ROWID;
INSERT INTO sign_ins_new (family_id, coop_id, person_id, begun_at, seen_at, device, proved_at) SELECT family_id, coop_id, person_id, begun_at, seen_at, device, proved_at FROM sign_ins;
DROP TABLE sign_ins;
ALTER TABLE sign_ins_new RENAME TO sign_ins;
CREATE INDEX sign_ins_person ON sign_ins (coop_id, person_id);
CREATE TABLE invitations_new (
  code_hash TEXT NOT NULL,
  coop_id INTEGER NOT NULL,
  person_id BLOB NOT NULL,
  expires_at INTEGER NOT NULL,
  used_at INTEGER,
  PRIMARY KEY (coop_id, code_hash),
  FOREIGN KEY (coop_id, person_id) REFERENCES people (coop_id, id)
) STRICT, WITHOUT ROWID;
INSERT INTO invitations_new (code_hash, coop_id, person_id, expires_at, used_at) SELECT code_hash, coop_id, person_id, expires_at, used_at FROM invitations;
DROP TABLE invitations;
ALTER TABLE invitations_new RENAME TO invitations;
CREATE INDEX invitations_code ON invitations (code_hash);
CREATE TABLE calendar_links_new (
  secret_hash TEXT NOT NULL,
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  farm_id BLOB NOT NULL,
  person_id BLOB NOT NULL,
  made_at INTEGER NOT NULL,
  revoked_at INTEGER,
  PRIMARY KEY (coop_id, secret_hash),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id, person_id) REFERENCES people (coop_id, id)
) STRICT, WITHOUT ROWID;
INSERT INTO calendar_links_new (secret_hash, coop_id, id, farm_id, person_id, made_at, revoked_at) SELECT secret_hash, coop_id, id, farm_id, person_id, made_at, revoked_at FROM calendar_links;
DROP TABLE calendar_links;
ALTER TABLE calendar_links_new RENAME TO calendar_links;
CREATE INDEX calendar_links_farm ON calendar_links (coop_id, farm_id, id);
CREATE INDEX calendar_links_secret ON calendar_links (secret_hash);
