ALTER TABLE coop_counters DROP COLUMN closed_until;
ALTER TABLE coop_counters DROP COLUMN sums_form;
DROP TABLE output_bins;
