-- The records, printed once from the kinds' declarations (server/storage/src/schema.rs).
-- One row a co-operative: the number of its last change, and of the last change of who
-- may see what. Locked first by every write on PostgreSQL.
CREATE TABLE coop_counters (
  coop_id BIGINT NOT NULL,
  change_seq BIGINT NOT NULL,
  access_version BIGINT NOT NULL,
  PRIMARY KEY (coop_id)
);

CREATE TABLE cooperatives (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  name TEXT COLLATE "C" NOT NULL,
  currency TEXT COLLATE "C" NOT NULL,
  zone TEXT COLLATE "C" NOT NULL,
  language TEXT COLLATE "C" NOT NULL CHECK (language IN ('en', 'sw')),
  started_on DATE NOT NULL,
  version BIGINT NOT NULL,
  created_at TIMESTAMPTZ NOT NULL,
  created_by UUID NOT NULL,
  changed_at TIMESTAMPTZ NOT NULL,
  changed_by UUID NOT NULL,
  withdrawn_at TIMESTAMPTZ,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);
CREATE UNIQUE INDEX cooperatives_name_key ON cooperatives (coop_id, name) WHERE withdrawn_at IS NULL;
CREATE UNIQUE INDEX cooperatives_id_key ON cooperatives (id);

CREATE TABLE areas (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  name TEXT COLLATE "C" NOT NULL,
  parent_id UUID,
  version BIGINT NOT NULL,
  created_at TIMESTAMPTZ NOT NULL,
  created_by UUID NOT NULL,
  changed_at TIMESTAMPTZ NOT NULL,
  changed_by UUID NOT NULL,
  withdrawn_at TIMESTAMPTZ,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, parent_id) REFERENCES areas (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);
CREATE UNIQUE INDEX areas_name_key ON areas (coop_id, name) WHERE withdrawn_at IS NULL;

CREATE TABLE growing_guide_values (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  name TEXT COLLATE "C" NOT NULL CHECK (name IN ('soak_hours', 'incubate_hours', 'seed_kg_per_tray', 'drain_gap_cm', 'waterings_per_day', 'harvest_age_days', 'animals_per_tray', 'fresh_kg_per_kg_seed', 'fodder_water_percent', 'seed_dry_matter_percent', 'sorghum_allowed')),
  animal_class TEXT COLLATE "C" CHECK (animal_class IN ('dairy_cows', 'other_cattle', 'goats', 'sheep', 'pigs', 'rabbits', 'indigenous_chickens', 'layers', 'broilers')),
  value BIGINT NOT NULL CHECK (value BETWEEN 0 AND 1000000000),
  valid_from DATE NOT NULL,
  note TEXT COLLATE "C",
  version BIGINT NOT NULL,
  created_at TIMESTAMPTZ NOT NULL,
  created_by UUID NOT NULL,
  changed_at TIMESTAMPTZ NOT NULL,
  changed_by UUID NOT NULL,
  withdrawn_at TIMESTAMPTZ,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);
CREATE INDEX growing_guide_values_order ON growing_guide_values (coop_id, valid_from, id);

CREATE TABLE checklist_items (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  code TEXT COLLATE "C" NOT NULL,
  topic TEXT COLLATE "C" NOT NULL CHECK (topic IN ('seed', 'water', 'disinfection', 'trays', 'shelves', 'seed_depth', 'shed', 'pests', 'people', 'batches', 'spoiled_trays', 'feeding', 'waste_water', 'records')),
  question TEXT COLLATE "C" NOT NULL,
  valid_from DATE NOT NULL,
  valid_to DATE,
  version BIGINT NOT NULL,
  created_at TIMESTAMPTZ NOT NULL,
  created_by UUID NOT NULL,
  changed_at TIMESTAMPTZ NOT NULL,
  changed_by UUID NOT NULL,
  withdrawn_at TIMESTAMPTZ,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);
CREATE UNIQUE INDEX checklist_items_code_key ON checklist_items (coop_id, code) WHERE withdrawn_at IS NULL;
CREATE INDEX checklist_items_order ON checklist_items (coop_id, valid_from, id);

CREATE TABLE feeds (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  name TEXT COLLATE "C" NOT NULL,
  dry_matter_percent BIGINT CHECK (dry_matter_percent BETWEEN 0 AND 10000),
  crude_protein_percent BIGINT CHECK (crude_protein_percent BETWEEN 0 AND 10000),
  energy_mj_per_kg BIGINT CHECK (energy_mj_per_kg BETWEEN 0 AND 2500),
  source TEXT COLLATE "C",
  version BIGINT NOT NULL,
  created_at TIMESTAMPTZ NOT NULL,
  created_by UUID NOT NULL,
  changed_at TIMESTAMPTZ NOT NULL,
  changed_by UUID NOT NULL,
  withdrawn_at TIMESTAMPTZ,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);
CREATE UNIQUE INDEX feeds_name_key ON feeds (coop_id, name) WHERE withdrawn_at IS NULL;

CREATE TABLE suppliers (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  name TEXT COLLATE "C" NOT NULL,
  phone TEXT COLLATE "C",
  lead_time_days BIGINT CHECK (lead_time_days BETWEEN 0 AND 365),
  note TEXT COLLATE "C",
  version BIGINT NOT NULL,
  created_at TIMESTAMPTZ NOT NULL,
  created_by UUID NOT NULL,
  changed_at TIMESTAMPTZ NOT NULL,
  changed_by UUID NOT NULL,
  withdrawn_at TIMESTAMPTZ,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);
CREATE UNIQUE INDEX suppliers_name_key ON suppliers (coop_id, name) WHERE withdrawn_at IS NULL;

CREATE TABLE members (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  number TEXT COLLATE "C" NOT NULL,
  name TEXT COLLATE "C" NOT NULL,
  area_id UUID NOT NULL,
  sex TEXT COLLATE "C" NOT NULL CHECK (sex IN ('female', 'male', 'not_stated')),
  birth_year BIGINT,
  phone TEXT COLLATE "C",
  language TEXT COLLATE "C" NOT NULL CHECK (language IN ('en', 'sw')),
  consent BOOLEAN NOT NULL,
  consent_on DATE,
  joined_on DATE NOT NULL,
  left_on DATE,
  version BIGINT NOT NULL,
  created_at TIMESTAMPTZ NOT NULL,
  created_by UUID NOT NULL,
  changed_at TIMESTAMPTZ NOT NULL,
  changed_by UUID NOT NULL,
  withdrawn_at TIMESTAMPTZ,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, area_id) REFERENCES areas (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);
CREATE UNIQUE INDEX members_number_key ON members (coop_id, number) WHERE withdrawn_at IS NULL;
CREATE INDEX members_order ON members (coop_id, joined_on, id);
CREATE INDEX members_area_id ON members (coop_id, area_id, id);

CREATE TABLE people (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  code TEXT COLLATE "C" NOT NULL,
  name TEXT COLLATE "C" NOT NULL,
  email TEXT COLLATE "C",
  phone TEXT COLLATE "C",
  language TEXT COLLATE "C" NOT NULL CHECK (language IN ('en', 'sw')),
  role TEXT COLLATE "C" NOT NULL CHECK (role IN ('operator', 'manager', 'officer', 'member', 'programme_reader')),
  member_id UUID,
  active BOOLEAN NOT NULL,
  version BIGINT NOT NULL,
  created_at TIMESTAMPTZ NOT NULL,
  created_by UUID NOT NULL,
  changed_at TIMESTAMPTZ NOT NULL,
  changed_by UUID NOT NULL,
  withdrawn_at TIMESTAMPTZ,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, member_id) REFERENCES members (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);
CREATE UNIQUE INDEX people_code_key ON people (coop_id, code) WHERE withdrawn_at IS NULL;
CREATE INDEX people_member_id ON people (coop_id, member_id, id);

CREATE TABLE officer_areas (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  person_id UUID NOT NULL,
  area_id UUID NOT NULL,
  version BIGINT NOT NULL,
  created_at TIMESTAMPTZ NOT NULL,
  created_by UUID NOT NULL,
  changed_at TIMESTAMPTZ NOT NULL,
  changed_by UUID NOT NULL,
  withdrawn_at TIMESTAMPTZ,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, person_id) REFERENCES people (coop_id, id),
  FOREIGN KEY (coop_id, area_id) REFERENCES areas (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);
CREATE INDEX officer_areas_person_id ON officer_areas (coop_id, person_id, id);

CREATE TABLE farms (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  code TEXT COLLATE "C" NOT NULL,
  member_id UUID NOT NULL,
  area_id UUID NOT NULL,
  place TEXT COLLATE "C",
  latitude BIGINT CHECK (latitude BETWEEN -9000000 AND 9000000),
  longitude BIGINT CHECK (longitude BETWEEN -18000000 AND 18000000),
  water_source TEXT COLLATE "C" CHECK (water_source IN ('piped', 'borehole', 'shallow_well', 'rainwater', 'river', 'vendor', 'other')),
  fodder_started_on DATE,
  version BIGINT NOT NULL,
  created_at TIMESTAMPTZ NOT NULL,
  created_by UUID NOT NULL,
  changed_at TIMESTAMPTZ NOT NULL,
  changed_by UUID NOT NULL,
  withdrawn_at TIMESTAMPTZ,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, member_id) REFERENCES members (coop_id, id),
  FOREIGN KEY (coop_id, area_id) REFERENCES areas (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);
CREATE UNIQUE INDEX farms_code_key ON farms (coop_id, code) WHERE withdrawn_at IS NULL;
CREATE INDEX farms_member_id ON farms (coop_id, member_id, id);
CREATE INDEX farms_area_id ON farms (coop_id, area_id, id);

CREATE TABLE sheds (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  code TEXT COLLATE "C" NOT NULL,
  farm_id UUID NOT NULL,
  tray_places BIGINT NOT NULL CHECK (tray_places BETWEEN 1 AND 100000),
  tray_load_kg BIGINT CHECK (tray_load_kg BETWEEN 0 AND 1000000000),
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
CREATE UNIQUE INDEX sheds_code_key ON sheds (coop_id, code) WHERE withdrawn_at IS NULL;
CREATE INDEX sheds_farm_id ON sheds (coop_id, farm_id, id);

CREATE TABLE animal_groups (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  code TEXT COLLATE "C" NOT NULL,
  farm_id UUID NOT NULL,
  animal_class TEXT COLLATE "C" NOT NULL CHECK (animal_class IN ('dairy_cows', 'other_cattle', 'goats', 'sheep', 'pigs', 'rabbits', 'indigenous_chickens', 'layers', 'broilers')),
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
CREATE UNIQUE INDEX animal_groups_code_key ON animal_groups (coop_id, code) WHERE withdrawn_at IS NULL;
CREATE INDEX animal_groups_farm_id ON animal_groups (coop_id, farm_id, id);

CREATE TABLE head_counts (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  animal_group_id UUID NOT NULL,
  farm_id UUID NOT NULL,
  date DATE NOT NULL,
  reason TEXT COLLATE "C" NOT NULL CHECK (reason IN ('counted', 'born', 'bought', 'moved_in', 'sold', 'slaughtered', 'died', 'moved_out')),
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
CREATE INDEX head_counts_order ON head_counts (coop_id, date, id);
CREATE INDEX head_counts_farm_order ON head_counts (coop_id, farm_id, date, id);
CREATE INDEX head_counts_animal_group_id ON head_counts (coop_id, animal_group_id, id);

CREATE TABLE baseline_rations (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  animal_group_id UUID NOT NULL,
  farm_id UUID NOT NULL,
  feed_id UUID NOT NULL,
  kg_per_animal_day BIGINT NOT NULL CHECK (kg_per_animal_day BETWEEN 0 AND 200000),
  recorded_on DATE NOT NULL,
  version BIGINT NOT NULL,
  created_at TIMESTAMPTZ NOT NULL,
  created_by UUID NOT NULL,
  changed_at TIMESTAMPTZ NOT NULL,
  changed_by UUID NOT NULL,
  withdrawn_at TIMESTAMPTZ,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, animal_group_id) REFERENCES animal_groups (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id, feed_id) REFERENCES feeds (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);
CREATE INDEX baseline_rations_order ON baseline_rations (coop_id, recorded_on, id);
CREATE INDEX baseline_rations_farm_order ON baseline_rations (coop_id, farm_id, recorded_on, id);
CREATE INDEX baseline_rations_animal_group_id ON baseline_rations (coop_id, animal_group_id, id);

CREATE TABLE seed_lots (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  code TEXT COLLATE "C" NOT NULL,
  crop TEXT COLLATE "C" NOT NULL CHECK (crop IN ('barley', 'wheat', 'maize', 'millet', 'oats', 'sorghum')),
  supplier_id UUID,
  note TEXT COLLATE "C",
  version BIGINT NOT NULL,
  created_at TIMESTAMPTZ NOT NULL,
  created_by UUID NOT NULL,
  changed_at TIMESTAMPTZ NOT NULL,
  changed_by UUID NOT NULL,
  withdrawn_at TIMESTAMPTZ,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, supplier_id) REFERENCES suppliers (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);
CREATE UNIQUE INDEX seed_lots_code_key ON seed_lots (coop_id, code) WHERE withdrawn_at IS NULL;

CREATE TABLE seed_purchases (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  seed_lot_id UUID NOT NULL,
  date DATE NOT NULL,
  kg BIGINT NOT NULL CHECK (kg BETWEEN 0 AND 1000000000),
  price BIGINT NOT NULL CHECK (price >= 0),
  transport BIGINT CHECK (transport >= 0),
  feed_grade BOOLEAN NOT NULL,
  untreated BOOLEAN NOT NULL,
  germination_percent BIGINT CHECK (germination_percent BETWEEN 0 AND 10000),
  note TEXT COLLATE "C",
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
CREATE INDEX seed_purchases_order ON seed_purchases (coop_id, date, id);
CREATE INDEX seed_purchases_seed_lot_id ON seed_purchases (coop_id, seed_lot_id, id);

CREATE TABLE seed_issues (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  seed_lot_id UUID NOT NULL,
  farm_id UUID NOT NULL,
  date DATE NOT NULL,
  kg BIGINT NOT NULL CHECK (kg BETWEEN 0 AND 1000000000),
  price BIGINT CHECK (price >= 0),
  payment TEXT COLLATE "C" NOT NULL CHECK (payment IN ('credit', 'paid')),
  note TEXT COLLATE "C",
  version BIGINT NOT NULL,
  created_at TIMESTAMPTZ NOT NULL,
  created_by UUID NOT NULL,
  changed_at TIMESTAMPTZ NOT NULL,
  changed_by UUID NOT NULL,
  withdrawn_at TIMESTAMPTZ,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, seed_lot_id) REFERENCES seed_lots (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);
CREATE INDEX seed_issues_order ON seed_issues (coop_id, date, id);
CREATE INDEX seed_issues_farm_order ON seed_issues (coop_id, farm_id, date, id);

CREATE TABLE seed_adjustments (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  seed_lot_id UUID NOT NULL,
  farm_id UUID,
  date DATE NOT NULL,
  change_kg BIGINT NOT NULL CHECK (change_kg BETWEEN -1000000000 AND 1000000000),
  reason TEXT COLLATE "C" NOT NULL CHECK (reason IN ('stock_count', 'returned', 'spoiled', 'lost', 'moved', 'other')),
  note TEXT COLLATE "C",
  version BIGINT NOT NULL,
  created_at TIMESTAMPTZ NOT NULL,
  created_by UUID NOT NULL,
  changed_at TIMESTAMPTZ NOT NULL,
  changed_by UUID NOT NULL,
  withdrawn_at TIMESTAMPTZ,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, seed_lot_id) REFERENCES seed_lots (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);
CREATE INDEX seed_adjustments_order ON seed_adjustments (coop_id, date, id);

CREATE TABLE batches (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  code TEXT COLLATE "C",
  shed_id UUID NOT NULL,
  farm_id UUID NOT NULL,
  animal_group_id UUID,
  seed_lot_id UUID,
  crop TEXT COLLATE "C" NOT NULL CHECK (crop IN ('barley', 'wheat', 'maize', 'millet', 'oats', 'sorghum')),
  harvest_age_days BIGINT CHECK (harvest_age_days BETWEEN 2 AND 14),
  note TEXT COLLATE "C",
  version BIGINT NOT NULL,
  created_at TIMESTAMPTZ NOT NULL,
  created_by UUID NOT NULL,
  changed_at TIMESTAMPTZ NOT NULL,
  changed_by UUID NOT NULL,
  withdrawn_at TIMESTAMPTZ,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, shed_id) REFERENCES sheds (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id, animal_group_id) REFERENCES animal_groups (coop_id, id),
  FOREIGN KEY (coop_id, seed_lot_id) REFERENCES seed_lots (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);
CREATE UNIQUE INDEX batches_code_key ON batches (coop_id, code) WHERE withdrawn_at IS NULL;
CREATE INDEX batches_farm_id ON batches (coop_id, farm_id, id);
CREATE INDEX batches_seed_lot_id ON batches (coop_id, seed_lot_id, id);

CREATE TABLE batch_events (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  batch_id UUID NOT NULL,
  farm_id UUID NOT NULL,
  event TEXT COLLATE "C" NOT NULL CHECK (event IN ('soaked', 'spread', 'watered', 'harvested', 'fed_out', 'discarded')),
  at TIMESTAMPTZ NOT NULL,
  trays BIGINT CHECK (trays BETWEEN 0 AND 100000),
  kg BIGINT CHECK (kg BETWEEN 0 AND 1000000000),
  cause TEXT COLLATE "C" CHECK (cause IN ('mould', 'rot_at_drain_end', 'poor_germination', 'dried_out', 'pests', 'left_too_long', 'other')),
  mould_seen BOOLEAN,
  animal_group_id UUID,
  reason TEXT COLLATE "C",
  note TEXT COLLATE "C",
  version BIGINT NOT NULL,
  created_at TIMESTAMPTZ NOT NULL,
  created_by UUID NOT NULL,
  changed_at TIMESTAMPTZ NOT NULL,
  changed_by UUID NOT NULL,
  withdrawn_at TIMESTAMPTZ,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, batch_id) REFERENCES batches (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id, animal_group_id) REFERENCES animal_groups (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);
CREATE INDEX batch_events_order ON batch_events (coop_id, at, id);
CREATE INDEX batch_events_farm_order ON batch_events (coop_id, farm_id, at, id);
CREATE INDEX batch_events_batch_id ON batch_events (coop_id, batch_id, id);

CREATE TABLE milk_records (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  animal_group_id UUID NOT NULL,
  farm_id UUID NOT NULL,
  date DATE NOT NULL,
  session TEXT COLLATE "C" NOT NULL CHECK (session IN ('day', 'morning', 'midday', 'evening')),
  litres BIGINT NOT NULL CHECK (litres BETWEEN 0 AND 100000000),
  animals_in_milk BIGINT NOT NULL CHECK (animals_in_milk BETWEEN 1 AND 1000000),
  mean_days_in_milk BIGINT CHECK (mean_days_in_milk BETWEEN 0 AND 1500),
  sold_litres BIGINT CHECK (sold_litres BETWEEN 0 AND 100000000),
  home_litres BIGINT CHECK (home_litres BETWEEN 0 AND 100000000),
  calf_litres BIGINT CHECK (calf_litres BETWEEN 0 AND 100000000),
  price_per_litre BIGINT CHECK (price_per_litre >= 0),
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
CREATE INDEX milk_records_order ON milk_records (coop_id, date, id);
CREATE INDEX milk_records_farm_order ON milk_records (coop_id, farm_id, date, id);

CREATE TABLE egg_records (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  animal_group_id UUID NOT NULL,
  farm_id UUID NOT NULL,
  date DATE NOT NULL,
  hens_present BIGINT NOT NULL CHECK (hens_present BETWEEN 1 AND 1000000),
  eggs BIGINT NOT NULL CHECK (eggs BETWEEN 0 AND 2000000),
  cracked BIGINT CHECK (cracked BETWEEN 0 AND 2000000),
  flock_age_weeks BIGINT CHECK (flock_age_weeks BETWEEN 0 AND 300),
  sold_eggs BIGINT CHECK (sold_eggs BETWEEN 0 AND 2000000),
  price_per_egg BIGINT CHECK (price_per_egg >= 0),
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
CREATE INDEX egg_records_order ON egg_records (coop_id, date, id);
CREATE INDEX egg_records_farm_order ON egg_records (coop_id, farm_id, date, id);

CREATE TABLE feed_purchases (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  farm_id UUID NOT NULL,
  feed_id UUID NOT NULL,
  date DATE NOT NULL,
  kg BIGINT NOT NULL CHECK (kg BETWEEN 0 AND 1000000000),
  cost BIGINT NOT NULL CHECK (cost >= 0),
  note TEXT COLLATE "C",
  version BIGINT NOT NULL,
  created_at TIMESTAMPTZ NOT NULL,
  created_by UUID NOT NULL,
  changed_at TIMESTAMPTZ NOT NULL,
  changed_by UUID NOT NULL,
  withdrawn_at TIMESTAMPTZ,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id, feed_id) REFERENCES feeds (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);
CREATE INDEX feed_purchases_order ON feed_purchases (coop_id, date, id);
CREATE INDEX feed_purchases_farm_order ON feed_purchases (coop_id, farm_id, date, id);

CREATE TABLE other_costs (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  farm_id UUID NOT NULL,
  date DATE NOT NULL,
  category TEXT COLLATE "C" NOT NULL CHECK (category IN ('labour', 'water', 'power', 'repairs', 'disinfectant', 'disposal', 'interest', 'other')),
  amount BIGINT NOT NULL CHECK (amount >= 0),
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
CREATE INDEX other_costs_order ON other_costs (coop_id, date, id);
CREATE INDEX other_costs_farm_order ON other_costs (coop_id, farm_id, date, id);

CREATE TABLE assets (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  farm_id UUID NOT NULL,
  name TEXT COLLATE "C" NOT NULL,
  in_service_on DATE NOT NULL,
  cost BIGINT NOT NULL CHECK (cost >= 0),
  salvage_value BIGINT CHECK (salvage_value >= 0),
  life_months BIGINT NOT NULL CHECK (life_months BETWEEN 1 AND 600),
  disposed_on DATE,
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
CREATE INDEX assets_order ON assets (coop_id, in_service_on, id);
CREATE INDEX assets_farm_order ON assets (coop_id, farm_id, in_service_on, id);

CREATE TABLE visits (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  code TEXT COLLATE "C",
  farm_id UUID NOT NULL,
  officer_id UUID NOT NULL,
  started_at TIMESTAMPTZ NOT NULL,
  ended_at TIMESTAMPTZ,
  latitude BIGINT CHECK (latitude BETWEEN -9000000 AND 9000000),
  longitude BIGINT CHECK (longitude BETWEEN -18000000 AND 18000000),
  note TEXT COLLATE "C",
  advice TEXT COLLATE "C",
  version BIGINT NOT NULL,
  created_at TIMESTAMPTZ NOT NULL,
  created_by UUID NOT NULL,
  changed_at TIMESTAMPTZ NOT NULL,
  changed_by UUID NOT NULL,
  withdrawn_at TIMESTAMPTZ,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id, officer_id) REFERENCES people (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);
CREATE UNIQUE INDEX visits_code_key ON visits (coop_id, code) WHERE withdrawn_at IS NULL;
CREATE INDEX visits_order ON visits (coop_id, started_at, id);
CREATE INDEX visits_farm_order ON visits (coop_id, farm_id, started_at, id);

CREATE TABLE visit_checks (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  visit_id UUID NOT NULL,
  farm_id UUID NOT NULL,
  checklist_item_id UUID NOT NULL,
  answer TEXT COLLATE "C" NOT NULL CHECK (answer IN ('yes', 'no', 'not_seen')),
  note TEXT COLLATE "C",
  version BIGINT NOT NULL,
  created_at TIMESTAMPTZ NOT NULL,
  created_by UUID NOT NULL,
  changed_at TIMESTAMPTZ NOT NULL,
  changed_by UUID NOT NULL,
  withdrawn_at TIMESTAMPTZ,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, visit_id) REFERENCES visits (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id, checklist_item_id) REFERENCES checklist_items (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);
CREATE INDEX visit_checks_visit_id ON visit_checks (coop_id, visit_id, id);
CREATE INDEX visit_checks_farm_id ON visit_checks (coop_id, farm_id, id);

CREATE TABLE follow_ups (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  farm_id UUID NOT NULL,
  visit_id UUID,
  action TEXT COLLATE "C" NOT NULL,
  due_on DATE NOT NULL,
  outcome TEXT COLLATE "C" CHECK (outcome IN ('done', 'not_done', 'not_needed')),
  ended_on DATE,
  note TEXT COLLATE "C",
  version BIGINT NOT NULL,
  created_at TIMESTAMPTZ NOT NULL,
  created_by UUID NOT NULL,
  changed_at TIMESTAMPTZ NOT NULL,
  changed_by UUID NOT NULL,
  withdrawn_at TIMESTAMPTZ,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id, visit_id) REFERENCES visits (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);
CREATE INDEX follow_ups_order ON follow_ups (coop_id, due_on, id);
CREATE INDEX follow_ups_farm_order ON follow_ups (coop_id, farm_id, due_on, id);
CREATE INDEX follow_ups_visit_id ON follow_ups (coop_id, visit_id, id);

CREATE TABLE readings (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  farm_id UUID NOT NULL,
  shed_id UUID,
  visit_id UUID,
  at TIMESTAMPTZ NOT NULL,
  temperature_c BIGINT NOT NULL CHECK (temperature_c BETWEEN -2000 AND 2000),
  humidity_percent BIGINT CHECK (humidity_percent BETWEEN 0 AND 1000),
  version BIGINT NOT NULL,
  created_at TIMESTAMPTZ NOT NULL,
  created_by UUID NOT NULL,
  changed_at TIMESTAMPTZ NOT NULL,
  changed_by UUID NOT NULL,
  withdrawn_at TIMESTAMPTZ,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id, shed_id) REFERENCES sheds (coop_id, id),
  FOREIGN KEY (coop_id, visit_id) REFERENCES visits (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);
CREATE INDEX readings_order ON readings (coop_id, at, id);
CREATE INDEX readings_farm_order ON readings (coop_id, farm_id, at, id);

CREATE TABLE trainings (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  code TEXT COLLATE "C" NOT NULL,
  topic TEXT COLLATE "C" NOT NULL,
  date DATE NOT NULL,
  place TEXT COLLATE "C",
  trainer_id UUID,
  note TEXT COLLATE "C",
  version BIGINT NOT NULL,
  created_at TIMESTAMPTZ NOT NULL,
  created_by UUID NOT NULL,
  changed_at TIMESTAMPTZ NOT NULL,
  changed_by UUID NOT NULL,
  withdrawn_at TIMESTAMPTZ,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, trainer_id) REFERENCES people (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);
CREATE UNIQUE INDEX trainings_code_key ON trainings (coop_id, code) WHERE withdrawn_at IS NULL;
CREATE INDEX trainings_order ON trainings (coop_id, date, id);

CREATE TABLE attendances (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  training_id UUID NOT NULL,
  member_id UUID NOT NULL,
  version BIGINT NOT NULL,
  created_at TIMESTAMPTZ NOT NULL,
  created_by UUID NOT NULL,
  changed_at TIMESTAMPTZ NOT NULL,
  changed_by UUID NOT NULL,
  withdrawn_at TIMESTAMPTZ,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, training_id) REFERENCES trainings (coop_id, id),
  FOREIGN KEY (coop_id, member_id) REFERENCES members (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);
CREATE INDEX attendances_training_id ON attendances (coop_id, training_id, id);

CREATE TABLE photos (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  farm_id UUID NOT NULL,
  visit_id UUID,
  batch_event_id UUID,
  taken_at TIMESTAMPTZ NOT NULL,
  caption TEXT COLLATE "C",
  keep_location BOOLEAN NOT NULL,
  version BIGINT NOT NULL,
  created_at TIMESTAMPTZ NOT NULL,
  created_by UUID NOT NULL,
  changed_at TIMESTAMPTZ NOT NULL,
  changed_by UUID NOT NULL,
  withdrawn_at TIMESTAMPTZ,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id, visit_id) REFERENCES visits (coop_id, id),
  FOREIGN KEY (coop_id, batch_event_id) REFERENCES batch_events (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);
CREATE INDEX photos_order ON photos (coop_id, taken_at, id);
CREATE INDEX photos_farm_order ON photos (coop_id, farm_id, taken_at, id);
CREATE INDEX photos_visit_id ON photos (coop_id, visit_id, id);
CREATE INDEX photos_batch_event_id ON photos (coop_id, batch_event_id, id);

CREATE TABLE flags (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  farm_id UUID NOT NULL,
  batch_id UUID,
  raised_on DATE NOT NULL,
  points_at TEXT COLLATE "C" NOT NULL CHECK (points_at IN ('farm', 'seed_lot', 'not_known')),
  evidence TEXT COLLATE "C" NOT NULL,
  seen_on DATE,
  cause TEXT COLLATE "C" CHECK (cause IN ('mould', 'rot_at_drain_end', 'poor_germination', 'dried_out', 'pests', 'left_too_long', 'other')),
  finding TEXT COLLATE "C",
  cleared_on DATE,
  version BIGINT NOT NULL,
  created_at TIMESTAMPTZ NOT NULL,
  created_by UUID NOT NULL,
  changed_at TIMESTAMPTZ NOT NULL,
  changed_by UUID NOT NULL,
  withdrawn_at TIMESTAMPTZ,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id, batch_id) REFERENCES batches (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);
CREATE INDEX flags_order ON flags (coop_id, raised_on, id);
CREATE INDEX flags_farm_order ON flags (coop_id, farm_id, raised_on, id);
CREATE INDEX flags_batch_id ON flags (coop_id, batch_id, id);

CREATE TABLE record_history (
  coop_id BIGINT NOT NULL,
  kind TEXT COLLATE "C" NOT NULL,
  id UUID NOT NULL,
  version BIGINT NOT NULL,
  body TEXT COLLATE "C" NOT NULL,
  made_at TIMESTAMPTZ NOT NULL,
  made_by UUID NOT NULL,
  replaced_at TIMESTAMPTZ NOT NULL,
  replaced_by UUID NOT NULL,
  action TEXT COLLATE "C" NOT NULL,
  reason TEXT COLLATE "C",
  PRIMARY KEY (coop_id, kind, id, version),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);

CREATE TABLE changes (
  coop_id BIGINT NOT NULL,
  seq BIGINT NOT NULL,
  kind TEXT COLLATE "C" NOT NULL,
  id UUID NOT NULL,
  farm_id UUID,
  version BIGINT NOT NULL,
  withdrawn BOOLEAN NOT NULL,
  PRIMARY KEY (coop_id, seq),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);

CREATE TABLE farm_months (
  coop_id BIGINT NOT NULL,
  farm_id UUID NOT NULL,
  month BIGINT NOT NULL,
  milk_ml BIGINT NOT NULL,
  cow_days BIGINT NOT NULL,
  milk_days BIGINT NOT NULL,
  eggs BIGINT NOT NULL,
  hen_days BIGINT NOT NULL,
  cracked BIGINT NOT NULL,
  egg_days BIGINT NOT NULL,
  milk_stage BIGINT NOT NULL,
  milk_stage_animals BIGINT NOT NULL,
  egg_stage BIGINT NOT NULL,
  egg_stage_animals BIGINT NOT NULL,
  trays_started BIGINT NOT NULL,
  trays_harvested BIGINT NOT NULL,
  trays_discarded BIGINT NOT NULL,
  seed_g BIGINT NOT NULL,
  fed_g BIGINT NOT NULL,
  feed_cost_minor BIGINT NOT NULL,
  feed_purchases BIGINT NOT NULL,
  other_cost_minor BIGINT NOT NULL,
  other_costs BIGINT NOT NULL,
  PRIMARY KEY (coop_id, month, farm_id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id)
);

CREATE TABLE farm_month_feeds (
  coop_id BIGINT NOT NULL,
  farm_id UUID NOT NULL,
  month BIGINT NOT NULL,
  feed_id UUID NOT NULL,
  grams BIGINT NOT NULL,
  cost_minor BIGINT NOT NULL,
  records BIGINT NOT NULL,
  PRIMARY KEY (coop_id, month, farm_id, feed_id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id, feed_id) REFERENCES feeds (coop_id, id)
);

CREATE TABLE farm_month_lots (
  coop_id BIGINT NOT NULL,
  farm_id UUID NOT NULL,
  month BIGINT NOT NULL,
  lot_id UUID NOT NULL,
  grams BIGINT NOT NULL,
  PRIMARY KEY (coop_id, month, farm_id, lot_id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id)
);

CREATE TABLE farm_lots (
  coop_id BIGINT NOT NULL,
  farm_id UUID NOT NULL,
  lot_id UUID NOT NULL,
  issued_g BIGINT NOT NULL,
  issued_minor BIGINT NOT NULL,
  PRIMARY KEY (coop_id, farm_id, lot_id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id)
);

CREATE TABLE lot_totals (
  coop_id BIGINT NOT NULL,
  lot_id UUID NOT NULL,
  bought_g BIGINT NOT NULL,
  paid_minor BIGINT NOT NULL,
  PRIMARY KEY (coop_id, lot_id),
  FOREIGN KEY (coop_id, lot_id) REFERENCES seed_lots (coop_id, id)
);

CREATE TABLE herd_months (
  coop_id BIGINT NOT NULL,
  animal_group_id UUID NOT NULL,
  month BIGINT NOT NULL,
  animal_days BIGINT NOT NULL,
  closing_head BIGINT NOT NULL,
  PRIMARY KEY (coop_id, animal_group_id, month),
  FOREIGN KEY (coop_id, animal_group_id) REFERENCES animal_groups (coop_id, id)
);

CREATE TABLE month_closes (
  coop_id BIGINT NOT NULL,
  month BIGINT NOT NULL,
  closed_at TIMESTAMPTZ NOT NULL,
  closed_by UUID NOT NULL,
  report_json TEXT COLLATE "C" NOT NULL,
  report_csv TEXT COLLATE "C" NOT NULL,
  touched BOOLEAN NOT NULL,
  PRIMARY KEY (coop_id, month),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);

CREATE TABLE reported_savings (
  coop_id BIGINT NOT NULL,
  month BIGINT NOT NULL,
  farm_id UUID NOT NULL,
  reported_in BIGINT NOT NULL,
  saving_minor BIGINT,
  PRIMARY KEY (coop_id, month, farm_id, reported_in),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id)
);

CREATE TABLE photo_contents (
  coop_id BIGINT NOT NULL,
  photo_id UUID NOT NULL,
  media_type TEXT COLLATE "C" NOT NULL,
  sha256 TEXT COLLATE "C" NOT NULL,
  content BYTEA NOT NULL,
  stored_at TIMESTAMPTZ NOT NULL,
  PRIMARY KEY (coop_id, photo_id),
  FOREIGN KEY (coop_id, photo_id) REFERENCES photos (coop_id, id)
);

CREATE TABLE passwords (
  coop_id BIGINT NOT NULL,
  person_id UUID NOT NULL,
  hash TEXT COLLATE "C" NOT NULL,
  changed_at TIMESTAMPTZ NOT NULL,
  PRIMARY KEY (coop_id, person_id),
  FOREIGN KEY (coop_id, person_id) REFERENCES people (coop_id, id)
);

CREATE TABLE invitations (
  code_hash TEXT COLLATE "C" NOT NULL,
  coop_id BIGINT NOT NULL,
  person_id UUID NOT NULL,
  expires_at TIMESTAMPTZ NOT NULL,
  used_at TIMESTAMPTZ,
  PRIMARY KEY (code_hash),
  FOREIGN KEY (coop_id, person_id) REFERENCES people (coop_id, id)
);

CREATE TABLE sessions (
  token_hash TEXT COLLATE "C" NOT NULL,
  family_id UUID NOT NULL,
  coop_id BIGINT NOT NULL,
  person_id UUID NOT NULL,
  expires_at TIMESTAMPTZ NOT NULL,
  used_at TIMESTAMPTZ,
  ended_at TIMESTAMPTZ,
  PRIMARY KEY (token_hash),
  FOREIGN KEY (coop_id, person_id) REFERENCES people (coop_id, id)
);

CREATE TABLE session_people (
  family_id UUID NOT NULL,
  coop_id BIGINT NOT NULL,
  person_id UUID NOT NULL,
  PRIMARY KEY (family_id, coop_id, person_id),
  FOREIGN KEY (coop_id, person_id) REFERENCES people (coop_id, id)
);
CREATE INDEX sessions_family ON sessions (family_id);
CREATE INDEX sessions_person ON sessions (coop_id, person_id);
CREATE INDEX people_email ON people (email);
CREATE UNIQUE INDEX people_email_key ON people (coop_id, email) WHERE withdrawn_at IS NULL;
CREATE INDEX people_phone ON people (phone);
CREATE UNIQUE INDEX people_phone_key ON people (coop_id, phone) WHERE withdrawn_at IS NULL;

CREATE VIEW seed_movements AS
SELECT coop_id, id AS source_id, 'purchase' AS movement, seed_lot_id AS lot_id,
       CAST(NULL AS UUID) AS farm_id, kg AS grams, date AS moved_on,
       CAST(NULL AS TIMESTAMPTZ) AS moved_at
  FROM seed_purchases WHERE withdrawn_at IS NULL
UNION ALL
SELECT coop_id, id, 'issue', seed_lot_id, NULL, -kg, date, NULL
  FROM seed_issues WHERE withdrawn_at IS NULL
UNION ALL
SELECT coop_id, id, 'issue', seed_lot_id, farm_id, kg, date, NULL
  FROM seed_issues WHERE withdrawn_at IS NULL
UNION ALL
SELECT coop_id, id, 'adjustment', seed_lot_id, farm_id, change_kg, date, NULL
  FROM seed_adjustments WHERE withdrawn_at IS NULL
UNION ALL
SELECT e.coop_id, e.id, 'soak', b.seed_lot_id, e.farm_id, -e.kg, NULL, e.at
  FROM batch_events e JOIN batches b ON b.coop_id = e.coop_id AND b.id = e.batch_id
 WHERE e.withdrawn_at IS NULL AND e.event = 'soaked' AND b.seed_lot_id IS NOT NULL;
