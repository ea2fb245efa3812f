-- Up to which change the feed may forget: what was replaced or withdrawn by then. The floor follows
-- a mark that was set long enough ago; what lies below it is swept little by little.
CREATE TABLE feed_floors (
  coop_id BIGINT NOT NULL,
  floor BIGINT NOT NULL,
  swept BIGINT NOT NULL,
  mark BIGINT NOT NULL,
  marked_at TIMESTAMPTZ NOT NULL,
  PRIMARY KEY (coop_id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);
