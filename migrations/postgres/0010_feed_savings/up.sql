-- The savings report of every open month as it was last made: one row a month, with what programme
-- readers see of its divisions.
CREATE TABLE month_snapshots (
  coop_id BIGINT NOT NULL,
  month BIGINT NOT NULL,
  digest BIGINT NOT NULL,
  body TEXT NOT NULL,
  divisions TEXT NOT NULL,
  PRIMARY KEY (coop_id, month),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);
-- What a close froze: prices and the index of the month, and the baseline of each farm, anew where
-- records before its start have changed since.
CREATE TABLE frozen_months (
  coop_id BIGINT NOT NULL,
  month BIGINT NOT NULL,
  body TEXT NOT NULL,
  PRIMARY KEY (coop_id, month),
  FOREIGN KEY (coop_id, month) REFERENCES month_closes (coop_id, month)
);
CREATE TABLE farm_baselines (
  coop_id BIGINT NOT NULL,
  farm_id UUID NOT NULL,
  enterprise TEXT COLLATE "C" NOT NULL,
  frozen_in BIGINT NOT NULL,
  body TEXT NOT NULL,
  PRIMARY KEY (coop_id, farm_id, enterprise, frozen_in),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id)
);
-- What was reported, by class of animal and method. Method 1 kept differences, method 2 keeps what
-- was said last.
ALTER TABLE reported_savings ADD COLUMN enterprise TEXT COLLATE "C" NOT NULL DEFAULT '';
ALTER TABLE reported_savings ADD COLUMN method BIGINT NOT NULL DEFAULT 1;
ALTER TABLE reported_savings ADD COLUMN baseline_minor BIGINT;
ALTER TABLE reported_savings ALTER COLUMN enterprise DROP DEFAULT;
ALTER TABLE reported_savings ALTER COLUMN method DROP DEFAULT;
ALTER TABLE reported_savings DROP CONSTRAINT reported_savings_pkey;
ALTER TABLE reported_savings ADD CONSTRAINT reported_savings_pkey
  PRIMARY KEY (coop_id, month, farm_id, enterprise, reported_in);
