-- How files are read whose header has these words, as somebody of the co-operative last said it.
CREATE TABLE import_layouts (
  coop_id INTEGER NOT NULL,
  headers TEXT NOT NULL,
  body TEXT NOT NULL,
  kept_at INTEGER NOT NULL,
  PRIMARY KEY (coop_id, headers),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
INSERT INTO sqlite_stat1 VALUES ('import_layouts', 'import_layouts', '2000 2000 1');
