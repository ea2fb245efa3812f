DELETE FROM sqlite_stat1 WHERE tbl IN ('fodder_plans', 'planned_heads', 'rest_days', 'growing_pauses', 'work_records', 'lot_holds', 'seed_payments', 'review_acceptances', 'calendar_links') OR idx IN ('seed_issues_seed_lot_id', 'farm_month_lots_farm', 'seed_adjustments_seed_lot_id');
DELETE FROM growing_guide_values WHERE name IN ('full_trays', 'water_litres_per_kg_fresh', 'labour_minutes_per_tray', 'seed_lead_days', 'seed_service_percent', 'seed_bag_kg', 'silent_days');
ALTER TABLE growing_guide_values RENAME TO old_guide_values;
DROP INDEX growing_guide_values_order;
CREATE TABLE growing_guide_values (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  name TEXT NOT NULL CHECK (name IN ('soak_hours', 'incubate_hours', 'seed_kg_per_tray', 'drain_gap_cm', 'waterings_per_day', 'harvest_age_days', 'animals_per_tray', 'fresh_kg_per_kg_seed', 'fodder_water_percent', 'seed_dry_matter_percent', 'sorghum_allowed')),
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
DROP INDEX seed_issues_seed_lot_id;
DROP INDEX farm_month_lots_farm;
DROP INDEX seed_adjustments_seed_lot_id;
ALTER TABLE batch_events DROP COLUMN germinated_percent;
DROP TABLE calendar_links;
DROP TABLE review_acceptances;
DROP TABLE seed_payments;
DROP TABLE lot_holds;
DROP TABLE work_records;
DROP TABLE growing_pauses;
DROP TABLE rest_days;
DROP TABLE planned_heads;
DROP TABLE fodder_plans;
