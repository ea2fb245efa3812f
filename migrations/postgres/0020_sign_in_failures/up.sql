-- Failed sign-ins, and tries under way, by the keyed hash of what they count for: a login, an
-- address, a device, a secret that was tried.
CREATE TABLE sign_in_failures (
  key_hash TEXT COLLATE "C" NOT NULL,
  since TIMESTAMPTZ NOT NULL,
  failed BIGINT NOT NULL,
  under_way BIGINT NOT NULL,
  PRIMARY KEY (key_hash)
);
CREATE INDEX sign_in_failures_since ON sign_in_failures (since);
