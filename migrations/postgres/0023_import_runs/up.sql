-- Files that are being written slice by slice, and what was made of them: one that breaks off is
-- undone by these rows, and what was undone comes back when the file comes again.
CREATE TABLE import_runs (
  coop_id BIGINT NOT NULL,
  run_id UUID NOT NULL,
  touched_at TIMESTAMPTZ NOT NULL,
  undone BOOLEAN NOT NULL,
  PRIMARY KEY (coop_id, run_id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);
CREATE TABLE import_rows (
  coop_id BIGINT NOT NULL,
  kind TEXT COLLATE "C" NOT NULL,
  id UUID NOT NULL,
  run_id UUID NOT NULL,
  seq BIGINT NOT NULL,
  undone BOOLEAN NOT NULL,
  PRIMARY KEY (coop_id, kind, id),
  FOREIGN KEY (coop_id, run_id) REFERENCES import_runs (coop_id, run_id)
);
CREATE INDEX import_rows_run ON import_rows (coop_id, run_id, undone, seq);
