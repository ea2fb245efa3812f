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
