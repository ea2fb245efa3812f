ALTER TABLE cooperatives DROP COLUMN wet_months;
DROP TABLE why_snapshots;
UPDATE flags SET points_at = 'not_known' WHERE points_at = 'farm_or_lot';
ALTER TABLE flags DROP CONSTRAINT flags_points_at_check;
ALTER TABLE flags ADD CONSTRAINT flags_points_at_check CHECK (points_at IN ('farm', 'seed_lot', 'not_known'));
DROP TABLE batch_trays;
CREATE TABLE batch_trays (
  coop_id BIGINT NOT NULL,
  soaked_at TIMESTAMPTZ NOT NULL,
  batch_id UUID NOT NULL,
  farm_id UUID NOT NULL,
  lot_id UUID,
  spread BIGINT NOT NULL,
  harvested BIGINT NOT NULL,
  discarded BIGINT NOT NULL,
  PRIMARY KEY (coop_id, soaked_at, batch_id),
  FOREIGN KEY (coop_id, batch_id) REFERENCES batches (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id)
);
CREATE UNIQUE INDEX batch_trays_batch ON batch_trays (coop_id, batch_id);
CREATE INDEX batch_trays_farm ON batch_trays (coop_id, farm_id, soaked_at, batch_id);
INSERT INTO batch_trays
  (coop_id, soaked_at, batch_id, farm_id, lot_id, spread, harvested, discarded)
SELECT b.coop_id, e.soaked_at, b.id, b.farm_id, b.seed_lot_id, e.spread, e.harvested, e.discarded
  FROM (SELECT coop_id, batch_id,
               MIN(CASE WHEN event = 'soaked' THEN at END) AS soaked_at,
               CAST(SUM(CASE WHEN event = 'spread' THEN COALESCE(trays, 0) ELSE 0 END) AS BIGINT)
                 AS spread,
               CAST(SUM(CASE WHEN event = 'harvested' THEN COALESCE(trays, 0) ELSE 0 END) AS BIGINT)
                 AS harvested,
               CAST(SUM(CASE WHEN event = 'discarded' THEN COALESCE(trays, 0) ELSE 0 END) AS BIGINT)
                 AS discarded
          FROM batch_events WHERE withdrawn_at IS NULL GROUP BY coop_id, batch_id) e
  JOIN batches b ON b.coop_id = e.coop_id AND b.id = e.batch_id
 WHERE b.withdrawn_at IS NULL AND e.soaked_at IS NOT NULL AND e.spread > 0;
