-- Public keys of passkeys (W3C, Web Authentication) by which a person proves the second factor. The
-- counter is what the key said last; one that goes back is refused.
CREATE TABLE passkeys (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  person_id UUID NOT NULL,
  credential TEXT COLLATE "C" NOT NULL,
  name TEXT COLLATE "C" NOT NULL,
  body TEXT COLLATE "C" NOT NULL,
  counter BIGINT NOT NULL,
  made_at TIMESTAMPTZ NOT NULL,
  used_at TIMESTAMPTZ,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, person_id) REFERENCES people (coop_id, id)
);
CREATE UNIQUE INDEX passkeys_credential ON passkeys (coop_id, credential);
CREATE INDEX passkeys_person ON passkeys (coop_id, person_id);
-- What a passkey was asked to sign, until it is answered once or its time is over.
CREATE TABLE passkey_challenges (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  person_id UUID NOT NULL,
  purpose TEXT COLLATE "C" NOT NULL CHECK (purpose IN ('add', 'use')),
  state TEXT COLLATE "C" NOT NULL,
  expires_at TIMESTAMPTZ NOT NULL,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, person_id) REFERENCES people (coop_id, id)
);
CREATE INDEX passkey_challenges_person ON passkey_challenges (coop_id, person_id);
