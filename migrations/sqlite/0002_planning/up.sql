-- What the planner is told of farms, work done, seed accounts, holds and the review list.

CREATE TABLE fodder_plans (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  animal_group_id BLOB NOT NULL,
  farm_id BLOB NOT NULL,
  valid_from TEXT NOT NULL,
  shed_id BLOB,
  crop TEXT CHECK (crop IN ('barley', 'wheat', 'maize', 'millet', 'oats', 'sorghum')),
  harvest_age_days INTEGER CHECK (harvest_age_days BETWEEN 2 AND 14),
  tray_load TEXT CHECK (tray_load IN ('scaled', 'full')),
  is_grown INTEGER CHECK (is_grown IN (0, 1)),
  note TEXT,
  version INTEGER NOT NULL,
  created_at INTEGER NOT NULL,
  created_by BLOB NOT NULL,
  changed_at INTEGER NOT NULL,
  changed_by BLOB NOT NULL,
  withdrawn_at INTEGER,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, animal_group_id) REFERENCES animal_groups (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id, shed_id) REFERENCES sheds (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX fodder_plans_order ON fodder_plans (coop_id, valid_from, id);
CREATE INDEX fodder_plans_farm_order ON fodder_plans (coop_id, farm_id, valid_from, id);
CREATE INDEX fodder_plans_animal_group_id ON fodder_plans (coop_id, animal_group_id, id);

CREATE TABLE planned_heads (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  animal_group_id BLOB NOT NULL,
  farm_id BLOB NOT NULL,
  date TEXT NOT NULL,
  head INTEGER NOT NULL CHECK (head BETWEEN 0 AND 1000000),
  note TEXT,
  version INTEGER NOT NULL,
  created_at INTEGER NOT NULL,
  created_by BLOB NOT NULL,
  changed_at INTEGER NOT NULL,
  changed_by BLOB NOT NULL,
  withdrawn_at INTEGER,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, animal_group_id) REFERENCES animal_groups (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX planned_heads_order ON planned_heads (coop_id, date, id);
CREATE INDEX planned_heads_farm_order ON planned_heads (coop_id, farm_id, date, id);
CREATE INDEX planned_heads_animal_group_id ON planned_heads (coop_id, animal_group_id, id);

CREATE TABLE rest_days (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  farm_id BLOB NOT NULL,
  weekday TEXT CHECK (weekday IN ('monday', 'tuesday', 'wednesday', 'thursday', 'friday', 'saturday', 'sunday')),
  day TEXT,
  note TEXT,
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
CREATE INDEX rest_days_farm_id ON rest_days (coop_id, farm_id, id);

CREATE TABLE growing_pauses (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  farm_id BLOB NOT NULL,
  first_day TEXT NOT NULL,
  last_day TEXT,
  note TEXT,
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
CREATE INDEX growing_pauses_order ON growing_pauses (coop_id, first_day, id);
CREATE INDEX growing_pauses_farm_order ON growing_pauses (coop_id, farm_id, first_day, id);

CREATE TABLE work_records (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  farm_id BLOB NOT NULL,
  shed_id BLOB,
  batch_id BLOB,
  task TEXT NOT NULL CHECK (task IN ('drained', 'watered', 'cleaned')),
  at INTEGER NOT NULL,
  watering INTEGER CHECK (watering BETWEEN 1 AND 12),
  trays INTEGER CHECK (trays BETWEEN 0 AND 100000),
  note TEXT,
  version INTEGER NOT NULL,
  created_at INTEGER NOT NULL,
  created_by BLOB NOT NULL,
  changed_at INTEGER NOT NULL,
  changed_by BLOB NOT NULL,
  withdrawn_at INTEGER,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id, shed_id) REFERENCES sheds (coop_id, id),
  FOREIGN KEY (coop_id, batch_id) REFERENCES batches (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX work_records_order ON work_records (coop_id, at, id);
CREATE INDEX work_records_farm_order ON work_records (coop_id, farm_id, at, id);
CREATE INDEX work_records_batch_id ON work_records (coop_id, batch_id, id);

CREATE TABLE lot_holds (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  seed_lot_id BLOB NOT NULL,
  held_from TEXT NOT NULL,
  reason TEXT NOT NULL,
  released_on TEXT,
  finding TEXT,
  version INTEGER NOT NULL,
  created_at INTEGER NOT NULL,
  created_by BLOB NOT NULL,
  changed_at INTEGER NOT NULL,
  changed_by BLOB NOT NULL,
  withdrawn_at INTEGER,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, seed_lot_id) REFERENCES seed_lots (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX lot_holds_order ON lot_holds (coop_id, held_from, id);
CREATE INDEX lot_holds_seed_lot_id ON lot_holds (coop_id, seed_lot_id, id);

CREATE TABLE seed_payments (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  farm_id BLOB NOT NULL,
  date TEXT NOT NULL,
  amount INTEGER NOT NULL CHECK (amount >= 0),
  paid_by TEXT NOT NULL CHECK (paid_by IN ('cash', 'mobile_money', 'bank', 'milk_check_off', 'egg_check_off')),
  note TEXT,
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
CREATE INDEX seed_payments_order ON seed_payments (coop_id, date, id);
CREATE INDEX seed_payments_farm_order ON seed_payments (coop_id, farm_id, date, id);

CREATE TABLE review_acceptances (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  farm_id BLOB,
  rule TEXT NOT NULL CHECK (rule IN ('store_stock_below_zero', 'farm_stock_below_zero', 'more_trays_out_than_spread', 'more_fed_than_harvested', 'yield_impossible', 'yield_unlikely', 'events_out_of_order', 'fed_over_age', 'fed_with_mould', 'held_lot_soaked', 'shed_over_full', 'silent_farm', 'repeated_values', 'rounded_values', 'output_jump', 'head_jump')),
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
CREATE INDEX review_acceptances_order ON review_acceptances (coop_id, accepted_on, id);
CREATE INDEX review_acceptances_farm_order ON review_acceptances (coop_id, farm_id, accepted_on, id);

CREATE TABLE calendar_links (
  secret_hash TEXT NOT NULL,
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  farm_id BLOB NOT NULL,
  person_id BLOB NOT NULL,
  made_at INTEGER NOT NULL,
  revoked_at INTEGER,
  PRIMARY KEY (secret_hash),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id, person_id) REFERENCES people (coop_id, id)
) STRICT, WITHOUT ROWID;
CREATE INDEX calendar_links_farm ON calendar_links (coop_id, farm_id, id);

ALTER TABLE batch_events ADD COLUMN germinated_percent INTEGER CHECK (germinated_percent BETWEEN 0 AND 10000);
CREATE INDEX seed_issues_seed_lot_id ON seed_issues (coop_id, seed_lot_id, id);
CREATE INDEX farm_month_lots_farm ON farm_month_lots (coop_id, farm_id, lot_id, month);
CREATE INDEX seed_adjustments_seed_lot_id ON seed_adjustments (coop_id, seed_lot_id, id);

-- The growing guide knows more standards; SQLite changes a CHECK by making the table anew.
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

INSERT INTO sqlite_stat1 VALUES ('fodder_plans', 'fodder_plans', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('fodder_plans', 'fodder_plans_order', '1000000 1000000 1000 1');
INSERT INTO sqlite_stat1 VALUES ('fodder_plans', 'fodder_plans_farm_order', '1000000 1000000 500 3 1');
INSERT INTO sqlite_stat1 VALUES ('fodder_plans', 'fodder_plans_animal_group_id', '1000000 1000000 10 1');
INSERT INTO sqlite_stat1 VALUES ('planned_heads', 'planned_heads', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('planned_heads', 'planned_heads_order', '1000000 1000000 1000 1');
INSERT INTO sqlite_stat1 VALUES ('planned_heads', 'planned_heads_farm_order', '1000000 1000000 500 3 1');
INSERT INTO sqlite_stat1 VALUES ('planned_heads', 'planned_heads_animal_group_id', '1000000 1000000 10 1');
INSERT INTO sqlite_stat1 VALUES ('rest_days', 'rest_days', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('rest_days', 'rest_days_farm_id', '1000000 1000000 10 1');
INSERT INTO sqlite_stat1 VALUES ('growing_pauses', 'growing_pauses', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('growing_pauses', 'growing_pauses_order', '1000000 1000000 1000 1');
INSERT INTO sqlite_stat1 VALUES ('growing_pauses', 'growing_pauses_farm_order', '1000000 1000000 500 3 1');
INSERT INTO sqlite_stat1 VALUES ('work_records', 'work_records', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('work_records', 'work_records_order', '1000000 1000000 1000 1');
INSERT INTO sqlite_stat1 VALUES ('work_records', 'work_records_farm_order', '1000000 1000000 500 3 1');
INSERT INTO sqlite_stat1 VALUES ('work_records', 'work_records_batch_id', '1000000 1000000 10 1');
INSERT INTO sqlite_stat1 VALUES ('lot_holds', 'lot_holds', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('lot_holds', 'lot_holds_order', '1000000 1000000 1000 1');
INSERT INTO sqlite_stat1 VALUES ('lot_holds', 'lot_holds_seed_lot_id', '1000000 1000000 10 1');
INSERT INTO sqlite_stat1 VALUES ('seed_payments', 'seed_payments', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('seed_payments', 'seed_payments_order', '1000000 1000000 1000 1');
INSERT INTO sqlite_stat1 VALUES ('seed_payments', 'seed_payments_farm_order', '1000000 1000000 500 3 1');
INSERT INTO sqlite_stat1 VALUES ('review_acceptances', 'review_acceptances', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('review_acceptances', 'review_acceptances_order', '1000000 1000000 1000 1');
INSERT INTO sqlite_stat1 VALUES ('review_acceptances', 'review_acceptances_farm_order', '1000000 1000000 500 3 1');
INSERT INTO sqlite_stat1 VALUES ('seed_issues', 'seed_issues_seed_lot_id', '1000000 1000000 10 1');
INSERT INTO sqlite_stat1 VALUES ('farm_month_lots', 'farm_month_lots_farm', '100000 100000 50 20 1');
INSERT INTO sqlite_stat1 VALUES ('seed_adjustments', 'seed_adjustments_seed_lot_id', '1000000 1000000 10 1');
