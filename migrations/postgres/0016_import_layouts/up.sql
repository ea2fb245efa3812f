-- How files are read whose header has these words, as somebody of the co-operative last said it.
CREATE TABLE import_layouts (
  coop_id BIGINT NOT NULL,
  headers TEXT COLLATE "C" NOT NULL,
  body TEXT COLLATE "C" NOT NULL,
  kept_at TIMESTAMPTZ NOT NULL,
  PRIMARY KEY (coop_id, headers),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);
