-- Public keys of passkeys (W3C, Web Authentication) by which a person proves the second factor. The
-- counter is what the key said last; one that goes back is refused.
CREATE TABLE passkeys (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  person_id BLOB NOT NULL,
  credential TEXT NOT NULL,
  name TEXT NOT NULL,
  body TEXT NOT NULL,
  counter INTEGER NOT NULL,
  made_at INTEGER NOT NULL,
  used_at INTEGER,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, person_id) REFERENCES people (coop_id, id)
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX passkeys_credential ON passkeys (coop_id, credential);
CREATE INDEX passkeys_person ON passkeys (coop_id, person_id);
-- What a passkey was asked to sign, until it is answered once or its time is over.
CREATE TABLE passkey_challenges (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  person_id BLOB NOT NULL,
  purpose TEXT NOT NULL CHECK (purpose IN ('add', 'use')),
  state TEXT NOT NULL,
  expires_at INTEGER NOT NULL,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, person_id) REFERENCES people (coop_id, id)
) STRICT, WITHOUT ROWID;
CREATE INDEX passkey_challenges_person ON passkey_challenges (coop_id, person_id);
