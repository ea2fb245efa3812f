-- Trays as spoilage counts them: batches of any size, also those never spread, with the reason where
-- one is not counted. The program fills the table at its first start.
DROP TABLE batch_trays;
CREATE TABLE batch_trays (
  coop_id BIGINT NOT NULL,
  last_at TIMESTAMPTZ NOT NULL,
  batch_id UUID NOT NULL,
  farm_id UUID NOT NULL,
  shed_id UUID NOT NULL,
  lot_id UUID,
  soaked_at TIMESTAMPTZ,
  seed_g BIGINT NOT NULL,
  soaked_for BIGINT,
  spread BIGINT,
  before_spread BIGINT NOT NULL,
  discarded BIGINT NOT NULL,
  harvested BIGINT NOT NULL,
  harvested_g BIGINT,
  thrown_g BIGINT NOT NULL,
  harvested_at TIMESTAMPTZ,
  ended_at TIMESTAMPTZ,
  germinated BIGINT,
  begun BIGINT,
  lost BIGINT,
  not_counted TEXT COLLATE "C",
  PRIMARY KEY (coop_id, last_at, batch_id),
  FOREIGN KEY (coop_id, batch_id) REFERENCES batches (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id)
);
CREATE UNIQUE INDEX batch_trays_batch ON batch_trays (coop_id, batch_id);
CREATE INDEX batch_trays_farm ON batch_trays (coop_id, farm_id, last_at, batch_id);

ALTER TABLE flags DROP CONSTRAINT flags_points_at_check;
ALTER TABLE flags ADD CONSTRAINT flags_points_at_check CHECK (points_at IN ('farm', 'farm_or_lot', 'seed_lot', 'not_known'));

-- What goes with losses: made with the first of the day, a row a co-operative.
CREATE TABLE why_snapshots (
  coop_id BIGINT NOT NULL PRIMARY KEY,
  day DATE NOT NULL,
  format BIGINT NOT NULL,
  body TEXT COLLATE "C" NOT NULL,
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);

-- Months of the wet season, in which more trays may spoil; none: not compared.
ALTER TABLE cooperatives ADD COLUMN wet_months TEXT COLLATE "C";
