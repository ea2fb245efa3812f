DELETE FROM reported_savings WHERE method <> 1;
ALTER TABLE reported_savings DROP CONSTRAINT reported_savings_pkey;
ALTER TABLE reported_savings DROP COLUMN enterprise;
ALTER TABLE reported_savings DROP COLUMN method;
ALTER TABLE reported_savings DROP COLUMN baseline_minor;
ALTER TABLE reported_savings ADD CONSTRAINT reported_savings_pkey
  PRIMARY KEY (coop_id, month, farm_id, reported_in);
DROP TABLE farm_baselines;
DROP TABLE frozen_months;
DROP TABLE month_snapshots;
