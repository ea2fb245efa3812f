-- Files that were looked through and wait to be taken, so that another server can take them: their
-- bytes in parts, how they are read, and what became of them. Kept for half an hour.
CREATE TABLE import_waits (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  person_id UUID NOT NULL,
  touched_at TIMESTAMPTZ NOT NULL,
  state TEXT COLLATE "C" NOT NULL CHECK (state IN ('waits', 'runs', 'done', 'failed')),
  rows_read BIGINT NOT NULL,
  rows_all BIGINT NOT NULL,
  layouts TEXT COLLATE "C" NOT NULL,
  outcomes TEXT COLLATE "C" NOT NULL,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);
CREATE TABLE import_wait_parts (
  coop_id BIGINT NOT NULL,
  wait_id UUID NOT NULL,
  file BIGINT NOT NULL,
  part BIGINT NOT NULL,
  name TEXT COLLATE "C" NOT NULL,
  content BYTEA NOT NULL,
  PRIMARY KEY (coop_id, wait_id, file, part),
  FOREIGN KEY (coop_id, wait_id) REFERENCES import_waits (coop_id, id) ON DELETE CASCADE
);
