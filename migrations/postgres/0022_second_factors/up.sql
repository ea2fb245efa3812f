-- Sign-ins as their owner sees them: since when, last seen, on what, and when a second factor was
-- proved last. Those of an older program begin with their first token.
CREATE TABLE sign_ins (
  family_id UUID NOT NULL,
  coop_id BIGINT NOT NULL,
  person_id UUID NOT NULL,
  begun_at TIMESTAMPTZ NOT NULL,
  seen_at TIMESTAMPTZ NOT NULL,
  device TEXT COLLATE "C" NOT NULL,
  proved_at TIMESTAMPTZ,
  PRIMARY KEY (family_id),
  FOREIGN KEY (coop_id, person_id) REFERENCES people (coop_id, id)
);
CREATE INDEX sign_ins_person ON sign_ins (coop_id, person_id);
INSERT INTO sign_ins (family_id, coop_id, person_id, begun_at, seen_at, device)
SELECT family_id, coop_id, person_id, MIN(expires_at) - INTERVAL '30 days', MAX(expires_at) - INTERVAL '30 days', 'unknown'
  FROM sessions GROUP BY family_id, coop_id, person_id HAVING MAX(ended_at) IS NULL;
-- The secret of a person's second factor, sealed by a key that is not in the database. It counts
-- once a code was given.
CREATE TABLE second_factors (
  coop_id BIGINT NOT NULL,
  person_id UUID NOT NULL,
  sealed TEXT COLLATE "C" NOT NULL,
  confirmed_at TIMESTAMPTZ,
  last_step BIGINT NOT NULL,
  PRIMARY KEY (coop_id, person_id),
  FOREIGN KEY (coop_id, person_id) REFERENCES people (coop_id, id)
);
CREATE TABLE recovery_codes (
  coop_id BIGINT NOT NULL,
  person_id UUID NOT NULL,
  code_hash TEXT COLLATE "C" NOT NULL,
  PRIMARY KEY (coop_id, person_id, code_hash),
  FOREIGN KEY (coop_id, person_id) REFERENCES people (coop_id, id)
);
-- What somebody else did to a person's sign-in, until the person has seen it.
CREATE TABLE sign_in_notices (
  coop_id BIGINT NOT NULL,
  person_id UUID NOT NULL,
  at TIMESTAMPTZ NOT NULL,
  by_name TEXT COLLATE "C" NOT NULL,
  PRIMARY KEY (coop_id, person_id),
  FOREIGN KEY (coop_id, person_id) REFERENCES people (coop_id, id)
);
