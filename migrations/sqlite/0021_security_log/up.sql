-- What concerns security, one chain a co-operative; chain 0 is of no co-operative. Each line's hash
-- covers the line before it. `base` is the hash before the first line that is still kept.
CREATE TABLE security_chains (
  chain INTEGER NOT NULL,
  lines INTEGER NOT NULL,
  head TEXT NOT NULL,
  forgotten INTEGER NOT NULL,
  base TEXT NOT NULL,
  PRIMARY KEY (chain)
) STRICT, WITHOUT ROWID;
CREATE TABLE security_log (
  chain INTEGER NOT NULL,
  seq INTEGER NOT NULL,
  at INTEGER NOT NULL,
  event TEXT NOT NULL,
  person_id BLOB,
  about_id BLOB,
  account TEXT,
  address TEXT,
  detail TEXT,
  hash TEXT NOT NULL,
  PRIMARY KEY (chain, seq)
) STRICT, WITHOUT ROWID;
CREATE TRIGGER security_log_stays BEFORE UPDATE ON security_log
BEGIN
  SELECT RAISE(ABORT, 'the security log is never changed');
END;
INSERT INTO sqlite_stat1 VALUES ('security_log', 'security_log', '1000000 1000000 1');
