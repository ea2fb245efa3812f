-- Up to which change the feed may forget: what was replaced or withdrawn by then. The floor follows
-- a mark that was set long enough ago; what lies below it is swept little by little.
CREATE TABLE feed_floors (
  coop_id INTEGER NOT NULL,
  floor INTEGER NOT NULL,
  swept INTEGER NOT NULL,
  mark INTEGER NOT NULL,
  marked_at INTEGER NOT NULL,
  PRIMARY KEY (coop_id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
INSERT INTO sqlite_stat1 VALUES ('feed_floors', 'feed_floors', '10 1');
