-- One revision a co-operative: it moves with everything that an answer can show.
ALTER TABLE coop_counters ADD COLUMN revision BIGINT NOT NULL DEFAULT 0;
UPDATE coop_counters SET revision = change_seq;
-- The estimates as they were last made: one row a co-operative, with the lease of whoever makes
-- them, and one row a farm.
CREATE TABLE coop_snapshots (
  coop_id BIGINT NOT NULL PRIMARY KEY,
  revision BIGINT,
  change_seq BIGINT,
  made_at TIMESTAMPTZ,
  day DATE,
  format BIGINT,
  body TEXT,
  findings TEXT,
  next_at TIMESTAMPTZ NOT NULL,
  day_ends_at TIMESTAMPTZ NOT NULL,
  lease_until TIMESTAMPTZ NOT NULL,
  lease UUID,
  failed_at TIMESTAMPTZ,
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);
CREATE TABLE farm_snapshots (
  coop_id BIGINT NOT NULL,
  farm_id UUID NOT NULL,
  revision BIGINT NOT NULL,
  body TEXT NOT NULL,
  PRIMARY KEY (coop_id, farm_id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id)
);
