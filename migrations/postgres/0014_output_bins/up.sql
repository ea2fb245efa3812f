-- Output of group-days by half octave of the rate an animal, so that slips can be left out when the
-- sums are read. Added to with every record, taken from with every correction.
CREATE TABLE output_bins (
  coop_id BIGINT NOT NULL,
  is_milk BOOLEAN NOT NULL,
  farm_id UUID NOT NULL,
  month BIGINT NOT NULL,
  half_octave BIGINT NOT NULL,
  records BIGINT NOT NULL,
  amount BIGINT NOT NULL,
  animals BIGINT NOT NULL,
  stage BIGINT NOT NULL,
  stage_animals BIGINT NOT NULL,
  PRIMARY KEY (coop_id, is_milk, farm_id, month, half_octave),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id)
);
-- Form of the kept sums; sums of an older form are filled up by the program.
ALTER TABLE coop_counters ADD COLUMN sums_form BIGINT NOT NULL DEFAULT 0;
-- The last closed month, so that a record of an open one need not look for its close.
ALTER TABLE coop_counters ADD COLUMN closed_until BIGINT NOT NULL DEFAULT 0;
UPDATE coop_counters SET closed_until = COALESCE((SELECT MAX(c.month) FROM month_closes c
  WHERE c.coop_id = coop_counters.coop_id), 0);
