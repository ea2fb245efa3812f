-- What concerns security, one chain a co-operative; chain 0 is of no co-operative. Each line's hash
-- covers the line before it. `base` is the hash before the first line that is still kept.
CREATE TABLE security_chains (
  chain BIGINT NOT NULL,
  lines BIGINT NOT NULL,
  head TEXT COLLATE "C" NOT NULL,
  forgotten BIGINT NOT NULL,
  base TEXT COLLATE "C" NOT NULL,
  PRIMARY KEY (chain)
);
CREATE TABLE security_log (
  chain BIGINT NOT NULL,
  seq BIGINT NOT NULL,
  at TIMESTAMPTZ NOT NULL,
  event TEXT COLLATE "C" NOT NULL,
  person_id UUID,
  about_id UUID,
  account TEXT COLLATE "C",
  address TEXT COLLATE "C",
  detail TEXT COLLATE "C",
  hash TEXT COLLATE "C" NOT NULL,
  PRIMARY KEY (chain, seq)
);
CREATE FUNCTION security_log_stays() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  RAISE EXCEPTION 'the security log is never changed';
END $$;
CREATE TRIGGER security_log_stays BEFORE UPDATE ON security_log
FOR EACH ROW EXECUTE FUNCTION security_log_stays();
