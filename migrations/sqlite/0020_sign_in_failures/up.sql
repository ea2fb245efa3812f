-- Failed sign-ins, and tries under way, by the keyed hash of what they count for: a login, an
-- address, a device, a secret that was tried.
CREATE TABLE sign_in_failures (
  key_hash TEXT NOT NULL,
  since INTEGER NOT NULL,
  failed INTEGER NOT NULL,
  under_way INTEGER NOT NULL,
  PRIMARY KEY (key_hash)
) STRICT, WITHOUT ROWID;
CREATE INDEX sign_in_failures_since ON sign_in_failures (since);
INSERT INTO sqlite_stat1 VALUES ('sign_in_failures', 'sign_in_failures', '100000 1');
INSERT INTO sqlite_stat1 VALUES ('sign_in_failures', 'sign_in_failures_since', '100000 10 1');
