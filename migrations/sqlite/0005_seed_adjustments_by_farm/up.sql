-- What a farm's seed was corrected by is asked for whenever its stock is: without this, all farms'
-- corrections are read.
CREATE INDEX seed_adjustments_farm_id ON seed_adjustments (coop_id, farm_id, id);
INSERT INTO sqlite_stat1 VALUES
  ('seed_adjustments', 'seed_adjustments_farm_id', '1000000 1000000 10 1');
