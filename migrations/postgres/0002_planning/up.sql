-- What the planner is told of farms, work done, seed accounts, holds and the review list.

CREATE TABLE fodder_plans (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  animal_group_id UUID NOT NULL,
  farm_id UUID NOT NULL,
  valid_from DATE NOT NULL,
  shed_id UUID,
  crop TEXT COLLATE "C" CHECK (crop IN ('barley', 'wheat', 'maize', 'millet', 'oats', 'sorghum')),
  harvest_age_days BIGINT CHECK (harvest_age_days BETWEEN 2 AND 14),
  tray_load TEXT COLLATE "C" CHECK (tray_load IN ('scaled', 'full')),
  is_grown BOOLEAN,
  note TEXT COLLATE "C",
  version BIGINT NOT NULL,
  created_at TIMESTAMPTZ NOT NULL,
  created_by UUID NOT NULL,
  changed_at TIMESTAMPTZ NOT NULL,
  changed_by UUID NOT NULL,
  withdrawn_at TIMESTAMPTZ,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, animal_group_id) REFERENCES animal_groups (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id, shed_id) REFERENCES sheds (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);
CREATE INDEX fodder_plans_order ON fodder_plans (coop_id, valid_from, id);
CREATE INDEX fodder_plans_farm_order ON fodder_plans (coop_id, farm_id, valid_from, id);
CREATE INDEX fodder_plans_animal_group_id ON fodder_plans (coop_id, animal_group_id, id);

CREATE TABLE planned_heads (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  animal_group_id UUID NOT NULL,
  farm_id UUID NOT NULL,
  date DATE NOT NULL,
  head BIGINT NOT NULL CHECK (head BETWEEN 0 AND 1000000),
  note TEXT COLLATE "C",
  version BIGINT NOT NULL,
  created_at TIMESTAMPTZ NOT NULL,
  created_by UUID NOT NULL,
  changed_at TIMESTAMPTZ NOT NULL,
  changed_by UUID NOT NULL,
  withdrawn_at TIMESTAMPTZ,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, animal_group_id) REFERENCES animal_groups (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);
CREATE INDEX planned_heads_order ON planned_heads (coop_id, date, id);
CREATE INDEX planned_heads_farm_order ON planned_heads (coop_id, farm_id, date, id);
CREATE INDEX planned_heads_animal_group_id ON planned_heads (coop_id, animal_group_id, id);

CREATE TABLE rest_days (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  farm_id UUID NOT NULL,
  weekday TEXT COLLATE "C" CHECK (weekday IN ('monday', 'tuesday', 'wednesday', 'thursday', 'friday', 'saturday', 'sunday')),
  day DATE,
  note TEXT COLLATE "C",
  version BIGINT NOT NULL,
  created_at TIMESTAMPTZ NOT NULL,
  created_by UUID NOT NULL,
  changed_at TIMESTAMPTZ NOT NULL,
  changed_by UUID NOT NULL,
  withdrawn_at TIMESTAMPTZ,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);
CREATE INDEX rest_days_farm_id ON rest_days (coop_id, farm_id, id);

CREATE TABLE growing_pauses (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  farm_id UUID NOT NULL,
  first_day DATE NOT NULL,
  last_day DATE,
  note TEXT COLLATE "C",
  version BIGINT NOT NULL,
  created_at TIMESTAMPTZ NOT NULL,
  created_by UUID NOT NULL,
  changed_at TIMESTAMPTZ NOT NULL,
  changed_by UUID NOT NULL,
  withdrawn_at TIMESTAMPTZ,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);
CREATE INDEX growing_pauses_order ON growing_pauses (coop_id, first_day, id);
CREATE INDEX growing_pauses_farm_order ON growing_pauses (coop_id, farm_id, first_day, id);

CREATE TABLE work_records (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  farm_id UUID NOT NULL,
  shed_id UUID,
  batch_id UUID,
  task TEXT COLLATE "C" NOT NULL CHECK (task IN ('drained', 'watered', 'cleaned')),
  at TIMESTAMPTZ NOT NULL,
  watering BIGINT CHECK (watering BETWEEN 1 AND 12),
  trays BIGINT CHECK (trays BETWEEN 0 AND 100000),
  note TEXT COLLATE "C",
  version BIGINT NOT NULL,
  created_at TIMESTAMPTZ NOT NULL,
  created_by UUID NOT NULL,
  changed_at TIMESTAMPTZ NOT NULL,
  changed_by UUID NOT NULL,
  withdrawn_at TIMESTAMPTZ,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id, shed_id) REFERENCES sheds (coop_id, id),
  FOREIGN KEY (coop_id, batch_id) REFERENCES batches (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);
CREATE INDEX work_records_order ON work_records (coop_id, at, id);
CREATE INDEX work_records_farm_order ON work_records (coop_id, farm_id, at, id);
CREATE INDEX work_records_batch_id ON work_records (coop_id, batch_id, id);

CREATE TABLE lot_holds (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  seed_lot_id UUID NOT NULL,
  held_from DATE NOT NULL,
  reason TEXT COLLATE "C" NOT NULL,
  released_on DATE,
  finding TEXT COLLATE "C",
  version BIGINT NOT NULL,
  created_at TIMESTAMPTZ NOT NULL,
  created_by UUID NOT NULL,
  changed_at TIMESTAMPTZ NOT NULL,
  changed_by UUID NOT NULL,
  withdrawn_at TIMESTAMPTZ,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, seed_lot_id) REFERENCES seed_lots (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);
CREATE INDEX lot_holds_order ON lot_holds (coop_id, held_from, id);
CREATE INDEX lot_holds_seed_lot_id ON lot_holds (coop_id, seed_lot_id, id);

CREATE TABLE seed_payments (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  farm_id UUID NOT NULL,
  date DATE NOT NULL,
  amount BIGINT NOT NULL CHECK (amount >= 0),
  paid_by TEXT COLLATE "C" NOT NULL CHECK (paid_by IN ('cash', 'mobile_money', 'bank', 'milk_check_off', 'egg_check_off')),
  note TEXT COLLATE "C",
  version BIGINT NOT NULL,
  created_at TIMESTAMPTZ NOT NULL,
  created_by UUID NOT NULL,
  changed_at TIMESTAMPTZ NOT NULL,
  changed_by UUID NOT NULL,
  withdrawn_at TIMESTAMPTZ,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);
CREATE INDEX seed_payments_order ON seed_payments (coop_id, date, id);
CREATE INDEX seed_payments_farm_order ON seed_payments (coop_id, farm_id, date, id);

CREATE TABLE review_acceptances (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  farm_id UUID,
  rule TEXT COLLATE "C" NOT NULL CHECK (rule IN ('store_stock_below_zero', 'farm_stock_below_zero', 'more_trays_out_than_spread', 'more_fed_than_harvested', 'yield_impossible', 'yield_unlikely', 'events_out_of_order', 'fed_over_age', 'fed_with_mould', 'held_lot_soaked', 'shed_over_full', 'silent_farm', 'repeated_values', 'rounded_values', 'output_jump', 'head_jump')),
  finding TEXT COLLATE "C" NOT NULL,
  evidence TEXT COLLATE "C" NOT NULL,
  accepted_on DATE NOT NULL,
  reason TEXT COLLATE "C" NOT NULL,
  version BIGINT NOT NULL,
  created_at TIMESTAMPTZ NOT NULL,
  created_by UUID NOT NULL,
  changed_at TIMESTAMPTZ NOT NULL,
  changed_by UUID NOT NULL,
  withdrawn_at TIMESTAMPTZ,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);
CREATE INDEX review_acceptances_order ON review_acceptances (coop_id, accepted_on, id);
CREATE INDEX review_acceptances_farm_order ON review_acceptances (coop_id, farm_id, accepted_on, id);

CREATE TABLE calendar_links (
  secret_hash TEXT COLLATE "C" NOT NULL,
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  farm_id UUID NOT NULL,
  person_id UUID NOT NULL,
  made_at TIMESTAMPTZ NOT NULL,
  revoked_at TIMESTAMPTZ,
  PRIMARY KEY (secret_hash),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id, person_id) REFERENCES people (coop_id, id)
);
CREATE INDEX calendar_links_farm ON calendar_links (coop_id, farm_id, id);

ALTER TABLE batch_events ADD COLUMN germinated_percent BIGINT CHECK (germinated_percent BETWEEN 0 AND 10000);
CREATE INDEX seed_issues_seed_lot_id ON seed_issues (coop_id, seed_lot_id, id);
CREATE INDEX farm_month_lots_farm ON farm_month_lots (coop_id, farm_id, lot_id, month);
CREATE INDEX seed_adjustments_seed_lot_id ON seed_adjustments (coop_id, seed_lot_id, id);

ALTER TABLE growing_guide_values DROP CONSTRAINT growing_guide_values_name_check;
ALTER TABLE growing_guide_values ADD CONSTRAINT growing_guide_values_name_check CHECK (name IN ('soak_hours', 'incubate_hours', 'seed_kg_per_tray', 'drain_gap_cm', 'waterings_per_day', 'harvest_age_days', 'animals_per_tray', 'fresh_kg_per_kg_seed', 'fodder_water_percent', 'seed_dry_matter_percent', 'full_trays', 'water_litres_per_kg_fresh', 'labour_minutes_per_tray', 'seed_lead_days', 'seed_service_percent', 'seed_bag_kg', 'silent_days', 'sorghum_allowed'));
