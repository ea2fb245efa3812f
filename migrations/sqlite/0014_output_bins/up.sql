-- Output of group-days by half octave of the rate an animal, so that slips can be left out when the
-- sums are read. Added to with every record, taken from with every correction.
CREATE TABLE output_bins (
  coop_id INTEGER NOT NULL,
  is_milk INTEGER NOT NULL CHECK (is_milk IN (0, 1)),
  farm_id BLOB NOT NULL,
  month INTEGER NOT NULL,
  half_octave INTEGER NOT NULL,
  records INTEGER NOT NULL,
  amount INTEGER NOT NULL,
  animals INTEGER NOT NULL,
  stage INTEGER NOT NULL,
  stage_animals INTEGER NOT NULL,
  PRIMARY KEY (coop_id, is_milk, farm_id, month, half_octave),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id)
) STRICT, WITHOUT ROWID;
INSERT INTO sqlite_stat1 VALUES ('output_bins', 'output_bins', '200000 200000 100000 80 3 1');
-- Form of the kept sums; sums of an older form are filled up by the program.
ALTER TABLE coop_counters ADD COLUMN sums_form INTEGER NOT NULL DEFAULT 0;
-- The last closed month, so that a record of an open one need not look for its close.
ALTER TABLE coop_counters ADD COLUMN closed_until INTEGER NOT NULL DEFAULT 0;
UPDATE coop_counters SET closed_until = COALESCE((SELECT MAX(c.month) FROM month_closes c
  WHERE c.coop_id = coop_counters.coop_id), 0);
