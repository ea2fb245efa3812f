DELETE FROM growing_guide_values WHERE name IN ('tray_most_percent', 'young_loss_percent', 'short_days_percent');
ALTER TABLE growing_guide_values RENAME TO old_guide_values;
DROP INDEX growing_guide_values_order;
CREATE TABLE growing_guide_values (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  name TEXT NOT NULL CHECK (name IN ('soak_hours', 'incubate_hours', 'seed_kg_per_tray', 'drain_gap_cm', 'waterings_per_day', 'harvest_age_days', 'animals_per_tray', 'fresh_kg_per_kg_seed', 'fodder_water_percent', 'seed_dry_matter_percent', 'full_trays', 'water_litres_per_kg_fresh', 'labour_minutes_per_tray', 'seed_lead_days', 'seed_service_percent', 'seed_bag_kg', 'silent_days', 'sorghum_allowed')),
  animal_class TEXT CHECK (animal_class IN ('dairy_cows', 'other_cattle', 'goats', 'sheep', 'pigs', 'rabbits', 'indigenous_chickens', 'layers', 'broilers')),
  value INTEGER NOT NULL CHECK (value BETWEEN 0 AND 1000000000),
  valid_from TEXT NOT NULL,
  note TEXT,
  version INTEGER NOT NULL,
  created_at INTEGER NOT NULL,
  created_by BLOB NOT NULL,
  changed_at INTEGER NOT NULL,
  changed_by BLOB NOT NULL,
  withdrawn_at INTEGER,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
INSERT INTO growing_guide_values (coop_id, id, name, animal_class, value, valid_from, note, version, created_at, created_by, changed_at, changed_by, withdrawn_at) SELECT coop_id, id, name, animal_class, value, valid_from, note, version, created_at, created_by, changed_at, changed_by, withdrawn_at FROM old_guide_values;
DROP TABLE old_guide_values;
CREATE INDEX growing_guide_values_order ON growing_guide_values (coop_id, valid_from, id);
DELETE FROM sqlite_stat1 WHERE tbl IN ('growing_guide_values', 'old_guide_values');
INSERT INTO sqlite_stat1 VALUES ('growing_guide_values', 'growing_guide_values', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('growing_guide_values', 'growing_guide_values_order', '1000000 1000000 1000 1');

DELETE FROM review_acceptances WHERE rule IN ('guide_dry_matter', 'thrown_without_weight', 'price_outlier', 'amount_outlier', 'ration_too_much', 'ration_cost', 'unit_slip', 'level_shift', 'herd_implied', 'check_level');
ALTER TABLE review_acceptances RENAME TO old_review_acceptances;
DROP INDEX review_acceptances_order;
DROP INDEX review_acceptances_farm_order;
CREATE TABLE review_acceptances (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  farm_id BLOB,
  rule TEXT NOT NULL CHECK (rule IN ('store_stock_below_zero', 'farm_stock_below_zero', 'more_trays_out_than_spread', 'more_fed_than_harvested', 'yield_impossible', 'yield_unlikely', 'events_out_of_order', 'fed_over_age', 'fed_with_mould', 'held_lot_soaked', 'shed_over_full', 'silent_farm', 'repeated_values', 'rounded_values', 'output_jump', 'head_jump', 'feed_price', 'feed_kg', 'feed_gap', 'feed_stock', 'ration_not_bought')),
  finding TEXT NOT NULL,
  evidence TEXT NOT NULL,
  accepted_on TEXT NOT NULL,
  reason TEXT NOT NULL,
  version INTEGER NOT NULL,
  created_at INTEGER NOT NULL,
  created_by BLOB NOT NULL,
  changed_at INTEGER NOT NULL,
  changed_by BLOB NOT NULL,
  withdrawn_at INTEGER,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
INSERT INTO review_acceptances (coop_id, id, farm_id, rule, finding, evidence, accepted_on, reason, version, created_at, created_by, changed_at, changed_by, withdrawn_at) SELECT coop_id, id, farm_id, rule, finding, evidence, accepted_on, reason, version, created_at, created_by, changed_at, changed_by, withdrawn_at FROM old_review_acceptances;
DROP TABLE old_review_acceptances;
CREATE INDEX review_acceptances_order ON review_acceptances (coop_id, accepted_on, id);
CREATE INDEX review_acceptances_farm_order ON review_acceptances (coop_id, farm_id, accepted_on, id);
DELETE FROM sqlite_stat1 WHERE tbl IN ('review_acceptances', 'old_review_acceptances');
INSERT INTO sqlite_stat1 VALUES ('review_acceptances', 'review_acceptances', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('review_acceptances', 'review_acceptances_order', '1000000 1000000 1000 1');
INSERT INTO sqlite_stat1 VALUES ('review_acceptances', 'review_acceptances_farm_order', '1000000 1000000 500 3 1');

DROP TABLE review_runs;
DROP TABLE review_queue;
DROP TABLE review_cases;
DROP TABLE plan_learned;
DELETE FROM sqlite_stat1 WHERE tbl IN ('plan_learned', 'review_cases', 'review_queue', 'review_runs');
ALTER TABLE batch_events DROP COLUMN mould_trays;
