-- Trays that had mould, where somebody counted them.
ALTER TABLE batch_events ADD COLUMN mould_trays BIGINT CHECK (mould_trays BETWEEN 0 AND 100000);

-- What each farm's records have taught the plan, made with the first figures of the day: a row a
-- co-operative.
CREATE TABLE plan_learned (
  coop_id BIGINT NOT NULL,
  day DATE NOT NULL,
  body TEXT NOT NULL,
  PRIMARY KEY (coop_id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);

-- What the rules of the review list found, a row a case; a run replaces those of its days and farms.
CREATE TABLE review_cases (
  coop_id BIGINT NOT NULL,
  farm_id UUID NOT NULL,
  day DATE NOT NULL,
  finding TEXT COLLATE "C" NOT NULL,
  body TEXT NOT NULL,
  PRIMARY KEY (coop_id, farm_id, finding),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id)
);
CREATE INDEX review_cases_day ON review_cases (coop_id, day, farm_id, finding);

-- Farms whose whole history is still to be looked through, and how many there were to begin with.
CREATE TABLE review_queue (
  coop_id BIGINT NOT NULL,
  farm_id UUID NOT NULL,
  queued_at TIMESTAMPTZ NOT NULL,
  PRIMARY KEY (coop_id, farm_id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id)
);
CREATE TABLE review_runs (
  coop_id BIGINT NOT NULL,
  farms BIGINT NOT NULL,
  began_at TIMESTAMPTZ NOT NULL,
  ended_at TIMESTAMPTZ,
  PRIMARY KEY (coop_id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);

-- The growing guide and the review list know more names.
ALTER TABLE growing_guide_values DROP CONSTRAINT growing_guide_values_name_check;
ALTER TABLE growing_guide_values ADD CONSTRAINT growing_guide_values_name_check CHECK (name IN ('soak_hours', 'incubate_hours', 'seed_kg_per_tray', 'drain_gap_cm', 'waterings_per_day', 'harvest_age_days', 'animals_per_tray', 'fresh_kg_per_kg_seed', 'fodder_water_percent', 'seed_dry_matter_percent', 'full_trays', 'tray_most_percent', 'young_loss_percent', 'short_days_percent', 'water_litres_per_kg_fresh', 'labour_minutes_per_tray', 'seed_lead_days', 'seed_service_percent', 'seed_bag_kg', 'silent_days', 'sorghum_allowed'));
ALTER TABLE review_acceptances DROP CONSTRAINT review_acceptances_rule_check;
ALTER TABLE review_acceptances ADD CONSTRAINT review_acceptances_rule_check CHECK (rule IN ('store_stock_below_zero', 'farm_stock_below_zero', 'more_trays_out_than_spread', 'more_fed_than_harvested', 'yield_impossible', 'yield_unlikely', 'events_out_of_order', 'fed_over_age', 'fed_with_mould', 'held_lot_soaked', 'shed_over_full', 'silent_farm', 'repeated_values', 'rounded_values', 'output_jump', 'head_jump', 'feed_price', 'feed_kg', 'feed_gap', 'feed_stock', 'ration_not_bought', 'guide_dry_matter', 'thrown_without_weight', 'price_outlier', 'amount_outlier', 'ration_too_much', 'ration_cost', 'unit_slip', 'level_shift', 'herd_implied', 'check_level'));
