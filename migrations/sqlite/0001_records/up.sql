-- The records, printed once from the kinds' declarations (server/storage/src/schema.rs).
-- One row a co-operative: the number of its last change, and of the last change of who
-- may see what. Locked first by every write on PostgreSQL.
CREATE TABLE coop_counters (
  coop_id INTEGER NOT NULL,
  change_seq INTEGER NOT NULL,
  access_version INTEGER NOT NULL,
  PRIMARY KEY (coop_id)
) STRICT, WITHOUT ROWID;

CREATE TABLE cooperatives (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  name TEXT NOT NULL,
  currency TEXT NOT NULL,
  zone TEXT NOT NULL,
  language TEXT NOT NULL CHECK (language IN ('en', 'sw')),
  started_on TEXT NOT NULL,
  version INTEGER NOT NULL,
  created_at INTEGER NOT NULL,
  created_by BLOB NOT NULL,
  changed_at INTEGER NOT NULL,
  changed_by BLOB NOT NULL,
  withdrawn_at INTEGER,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX cooperatives_name_key ON cooperatives (coop_id, name) WHERE withdrawn_at IS NULL;
CREATE UNIQUE INDEX cooperatives_id_key ON cooperatives (id);

CREATE TABLE areas (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  name TEXT NOT NULL,
  parent_id BLOB,
  version INTEGER NOT NULL,
  created_at INTEGER NOT NULL,
  created_by BLOB NOT NULL,
  changed_at INTEGER NOT NULL,
  changed_by BLOB NOT NULL,
  withdrawn_at INTEGER,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, parent_id) REFERENCES areas (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX areas_name_key ON areas (coop_id, name) WHERE withdrawn_at IS NULL;

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
CREATE INDEX growing_guide_values_order ON growing_guide_values (coop_id, valid_from, id);

CREATE TABLE checklist_items (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  code TEXT NOT NULL,
  topic TEXT NOT NULL CHECK (topic IN ('seed', 'water', 'disinfection', 'trays', 'shelves', 'seed_depth', 'shed', 'pests', 'people', 'batches', 'spoiled_trays', 'feeding', 'waste_water', 'records')),
  question TEXT NOT NULL,
  valid_from TEXT NOT NULL,
  valid_to TEXT,
  version INTEGER NOT NULL,
  created_at INTEGER NOT NULL,
  created_by BLOB NOT NULL,
  changed_at INTEGER NOT NULL,
  changed_by BLOB NOT NULL,
  withdrawn_at INTEGER,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX checklist_items_code_key ON checklist_items (coop_id, code) WHERE withdrawn_at IS NULL;
CREATE INDEX checklist_items_order ON checklist_items (coop_id, valid_from, id);

CREATE TABLE feeds (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  name TEXT NOT NULL,
  dry_matter_percent INTEGER CHECK (dry_matter_percent BETWEEN 0 AND 10000),
  crude_protein_percent INTEGER CHECK (crude_protein_percent BETWEEN 0 AND 10000),
  energy_mj_per_kg INTEGER CHECK (energy_mj_per_kg BETWEEN 0 AND 2500),
  source TEXT,
  version INTEGER NOT NULL,
  created_at INTEGER NOT NULL,
  created_by BLOB NOT NULL,
  changed_at INTEGER NOT NULL,
  changed_by BLOB NOT NULL,
  withdrawn_at INTEGER,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX feeds_name_key ON feeds (coop_id, name) WHERE withdrawn_at IS NULL;

CREATE TABLE suppliers (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  name TEXT NOT NULL,
  phone TEXT,
  lead_time_days INTEGER CHECK (lead_time_days BETWEEN 0 AND 365),
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
CREATE UNIQUE INDEX suppliers_name_key ON suppliers (coop_id, name) WHERE withdrawn_at IS NULL;

CREATE TABLE members (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  number TEXT NOT NULL,
  name TEXT NOT NULL,
  area_id BLOB NOT NULL,
  sex TEXT NOT NULL CHECK (sex IN ('female', 'male', 'not_stated')),
  birth_year INTEGER,
  phone TEXT,
  language TEXT NOT NULL CHECK (language IN ('en', 'sw')),
  consent INTEGER NOT NULL CHECK (consent IN (0, 1)),
  consent_on TEXT,
  joined_on TEXT NOT NULL,
  left_on TEXT,
  version INTEGER NOT NULL,
  created_at INTEGER NOT NULL,
  created_by BLOB NOT NULL,
  changed_at INTEGER NOT NULL,
  changed_by BLOB NOT NULL,
  withdrawn_at INTEGER,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, area_id) REFERENCES areas (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX members_number_key ON members (coop_id, number) WHERE withdrawn_at IS NULL;
CREATE INDEX members_order ON members (coop_id, joined_on, id);
CREATE INDEX members_area_id ON members (coop_id, area_id, id);

CREATE TABLE people (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  code TEXT NOT NULL,
  name TEXT NOT NULL,
  email TEXT,
  phone TEXT,
  language TEXT NOT NULL CHECK (language IN ('en', 'sw')),
  role TEXT NOT NULL CHECK (role IN ('operator', 'manager', 'officer', 'member', 'programme_reader')),
  member_id BLOB,
  active INTEGER NOT NULL CHECK (active IN (0, 1)),
  version INTEGER NOT NULL,
  created_at INTEGER NOT NULL,
  created_by BLOB NOT NULL,
  changed_at INTEGER NOT NULL,
  changed_by BLOB NOT NULL,
  withdrawn_at INTEGER,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, member_id) REFERENCES members (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX people_code_key ON people (coop_id, code) WHERE withdrawn_at IS NULL;
CREATE INDEX people_member_id ON people (coop_id, member_id, id);

CREATE TABLE officer_areas (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  person_id BLOB NOT NULL,
  area_id BLOB NOT NULL,
  version INTEGER NOT NULL,
  created_at INTEGER NOT NULL,
  created_by BLOB NOT NULL,
  changed_at INTEGER NOT NULL,
  changed_by BLOB NOT NULL,
  withdrawn_at INTEGER,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, person_id) REFERENCES people (coop_id, id),
  FOREIGN KEY (coop_id, area_id) REFERENCES areas (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX officer_areas_person_id ON officer_areas (coop_id, person_id, id);

CREATE TABLE farms (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  code TEXT NOT NULL,
  member_id BLOB NOT NULL,
  area_id BLOB NOT NULL,
  place TEXT,
  latitude INTEGER CHECK (latitude BETWEEN -9000000 AND 9000000),
  longitude INTEGER CHECK (longitude BETWEEN -18000000 AND 18000000),
  water_source TEXT CHECK (water_source IN ('piped', 'borehole', 'shallow_well', 'rainwater', 'river', 'vendor', 'other')),
  fodder_started_on TEXT,
  version INTEGER NOT NULL,
  created_at INTEGER NOT NULL,
  created_by BLOB NOT NULL,
  changed_at INTEGER NOT NULL,
  changed_by BLOB NOT NULL,
  withdrawn_at INTEGER,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, member_id) REFERENCES members (coop_id, id),
  FOREIGN KEY (coop_id, area_id) REFERENCES areas (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX farms_code_key ON farms (coop_id, code) WHERE withdrawn_at IS NULL;
CREATE INDEX farms_member_id ON farms (coop_id, member_id, id);
CREATE INDEX farms_area_id ON farms (coop_id, area_id, id);

CREATE TABLE sheds (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  code TEXT NOT NULL,
  farm_id BLOB NOT NULL,
  tray_places INTEGER NOT NULL CHECK (tray_places BETWEEN 1 AND 100000),
  tray_load_kg INTEGER CHECK (tray_load_kg BETWEEN 0 AND 1000000000),
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
CREATE UNIQUE INDEX sheds_code_key ON sheds (coop_id, code) WHERE withdrawn_at IS NULL;
CREATE INDEX sheds_farm_id ON sheds (coop_id, farm_id, id);

CREATE TABLE animal_groups (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  code TEXT NOT NULL,
  farm_id BLOB NOT NULL,
  animal_class TEXT NOT NULL CHECK (animal_class IN ('dairy_cows', 'other_cattle', 'goats', 'sheep', 'pigs', 'rabbits', 'indigenous_chickens', 'layers', 'broilers')),
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
CREATE UNIQUE INDEX animal_groups_code_key ON animal_groups (coop_id, code) WHERE withdrawn_at IS NULL;
CREATE INDEX animal_groups_farm_id ON animal_groups (coop_id, farm_id, id);

CREATE TABLE head_counts (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  animal_group_id BLOB NOT NULL,
  farm_id BLOB NOT NULL,
  date TEXT NOT NULL,
  reason TEXT NOT NULL CHECK (reason IN ('counted', 'born', 'bought', 'moved_in', 'sold', 'slaughtered', 'died', 'moved_out')),
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
CREATE INDEX head_counts_order ON head_counts (coop_id, date, id);
CREATE INDEX head_counts_farm_order ON head_counts (coop_id, farm_id, date, id);
CREATE INDEX head_counts_animal_group_id ON head_counts (coop_id, animal_group_id, id);

CREATE TABLE baseline_rations (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  animal_group_id BLOB NOT NULL,
  farm_id BLOB NOT NULL,
  feed_id BLOB NOT NULL,
  kg_per_animal_day INTEGER NOT NULL CHECK (kg_per_animal_day BETWEEN 0 AND 200000),
  recorded_on TEXT NOT NULL,
  version INTEGER NOT NULL,
  created_at INTEGER NOT NULL,
  created_by BLOB NOT NULL,
  changed_at INTEGER NOT NULL,
  changed_by BLOB NOT NULL,
  withdrawn_at INTEGER,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, animal_group_id) REFERENCES animal_groups (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id, feed_id) REFERENCES feeds (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX baseline_rations_order ON baseline_rations (coop_id, recorded_on, id);
CREATE INDEX baseline_rations_farm_order ON baseline_rations (coop_id, farm_id, recorded_on, id);
CREATE INDEX baseline_rations_animal_group_id ON baseline_rations (coop_id, animal_group_id, id);

CREATE TABLE seed_lots (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  code TEXT NOT NULL,
  crop TEXT NOT NULL CHECK (crop IN ('barley', 'wheat', 'maize', 'millet', 'oats', 'sorghum')),
  supplier_id BLOB,
  note TEXT,
  version INTEGER NOT NULL,
  created_at INTEGER NOT NULL,
  created_by BLOB NOT NULL,
  changed_at INTEGER NOT NULL,
  changed_by BLOB NOT NULL,
  withdrawn_at INTEGER,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, supplier_id) REFERENCES suppliers (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX seed_lots_code_key ON seed_lots (coop_id, code) WHERE withdrawn_at IS NULL;

CREATE TABLE seed_purchases (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  seed_lot_id BLOB NOT NULL,
  date TEXT NOT NULL,
  kg INTEGER NOT NULL CHECK (kg BETWEEN 0 AND 1000000000),
  price INTEGER NOT NULL CHECK (price >= 0),
  transport INTEGER CHECK (transport >= 0),
  feed_grade INTEGER NOT NULL CHECK (feed_grade IN (0, 1)),
  untreated INTEGER NOT NULL CHECK (untreated IN (0, 1)),
  germination_percent INTEGER CHECK (germination_percent BETWEEN 0 AND 10000),
  note TEXT,
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
CREATE INDEX seed_purchases_order ON seed_purchases (coop_id, date, id);
CREATE INDEX seed_purchases_seed_lot_id ON seed_purchases (coop_id, seed_lot_id, id);

CREATE TABLE seed_issues (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  seed_lot_id BLOB NOT NULL,
  farm_id BLOB NOT NULL,
  date TEXT NOT NULL,
  kg INTEGER NOT NULL CHECK (kg BETWEEN 0 AND 1000000000),
  price INTEGER CHECK (price >= 0),
  payment TEXT NOT NULL CHECK (payment IN ('credit', 'paid')),
  note TEXT,
  version INTEGER NOT NULL,
  created_at INTEGER NOT NULL,
  created_by BLOB NOT NULL,
  changed_at INTEGER NOT NULL,
  changed_by BLOB NOT NULL,
  withdrawn_at INTEGER,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, seed_lot_id) REFERENCES seed_lots (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX seed_issues_order ON seed_issues (coop_id, date, id);
CREATE INDEX seed_issues_farm_order ON seed_issues (coop_id, farm_id, date, id);

CREATE TABLE seed_adjustments (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  seed_lot_id BLOB NOT NULL,
  farm_id BLOB,
  date TEXT NOT NULL,
  change_kg INTEGER NOT NULL CHECK (change_kg BETWEEN -1000000000 AND 1000000000),
  reason TEXT NOT NULL CHECK (reason IN ('stock_count', 'returned', 'spoiled', 'lost', 'moved', 'other')),
  note TEXT,
  version INTEGER NOT NULL,
  created_at INTEGER NOT NULL,
  created_by BLOB NOT NULL,
  changed_at INTEGER NOT NULL,
  changed_by BLOB NOT NULL,
  withdrawn_at INTEGER,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, seed_lot_id) REFERENCES seed_lots (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX seed_adjustments_order ON seed_adjustments (coop_id, date, id);

CREATE TABLE batches (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  code TEXT,
  shed_id BLOB NOT NULL,
  farm_id BLOB NOT NULL,
  animal_group_id BLOB,
  seed_lot_id BLOB,
  crop TEXT NOT NULL CHECK (crop IN ('barley', 'wheat', 'maize', 'millet', 'oats', 'sorghum')),
  harvest_age_days INTEGER CHECK (harvest_age_days BETWEEN 2 AND 14),
  note TEXT,
  version INTEGER NOT NULL,
  created_at INTEGER NOT NULL,
  created_by BLOB NOT NULL,
  changed_at INTEGER NOT NULL,
  changed_by BLOB NOT NULL,
  withdrawn_at INTEGER,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, shed_id) REFERENCES sheds (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id, animal_group_id) REFERENCES animal_groups (coop_id, id),
  FOREIGN KEY (coop_id, seed_lot_id) REFERENCES seed_lots (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX batches_code_key ON batches (coop_id, code) WHERE withdrawn_at IS NULL;
CREATE INDEX batches_farm_id ON batches (coop_id, farm_id, id);
CREATE INDEX batches_seed_lot_id ON batches (coop_id, seed_lot_id, id);

CREATE TABLE batch_events (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  batch_id BLOB NOT NULL,
  farm_id BLOB NOT NULL,
  event TEXT NOT NULL CHECK (event IN ('soaked', 'spread', 'watered', 'harvested', 'fed_out', 'discarded')),
  at INTEGER NOT NULL,
  trays INTEGER CHECK (trays BETWEEN 0 AND 100000),
  kg INTEGER CHECK (kg BETWEEN 0 AND 1000000000),
  cause TEXT CHECK (cause IN ('mould', 'rot_at_drain_end', 'poor_germination', 'dried_out', 'pests', 'left_too_long', 'other')),
  mould_seen INTEGER CHECK (mould_seen IN (0, 1)),
  animal_group_id BLOB,
  reason TEXT,
  note TEXT,
  version INTEGER NOT NULL,
  created_at INTEGER NOT NULL,
  created_by BLOB NOT NULL,
  changed_at INTEGER NOT NULL,
  changed_by BLOB NOT NULL,
  withdrawn_at INTEGER,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, batch_id) REFERENCES batches (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id, animal_group_id) REFERENCES animal_groups (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX batch_events_order ON batch_events (coop_id, at, id);
CREATE INDEX batch_events_farm_order ON batch_events (coop_id, farm_id, at, id);
CREATE INDEX batch_events_batch_id ON batch_events (coop_id, batch_id, id);

CREATE TABLE milk_records (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  animal_group_id BLOB NOT NULL,
  farm_id BLOB NOT NULL,
  date TEXT NOT NULL,
  session TEXT NOT NULL CHECK (session IN ('day', 'morning', 'midday', 'evening')),
  litres INTEGER NOT NULL CHECK (litres BETWEEN 0 AND 100000000),
  animals_in_milk INTEGER NOT NULL CHECK (animals_in_milk BETWEEN 1 AND 1000000),
  mean_days_in_milk INTEGER CHECK (mean_days_in_milk BETWEEN 0 AND 1500),
  sold_litres INTEGER CHECK (sold_litres BETWEEN 0 AND 100000000),
  home_litres INTEGER CHECK (home_litres BETWEEN 0 AND 100000000),
  calf_litres INTEGER CHECK (calf_litres BETWEEN 0 AND 100000000),
  price_per_litre INTEGER CHECK (price_per_litre >= 0),
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
CREATE INDEX milk_records_order ON milk_records (coop_id, date, id);
CREATE INDEX milk_records_farm_order ON milk_records (coop_id, farm_id, date, id);

CREATE TABLE egg_records (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  animal_group_id BLOB NOT NULL,
  farm_id BLOB NOT NULL,
  date TEXT NOT NULL,
  hens_present INTEGER NOT NULL CHECK (hens_present BETWEEN 1 AND 1000000),
  eggs INTEGER NOT NULL CHECK (eggs BETWEEN 0 AND 2000000),
  cracked INTEGER CHECK (cracked BETWEEN 0 AND 2000000),
  flock_age_weeks INTEGER CHECK (flock_age_weeks BETWEEN 0 AND 300),
  sold_eggs INTEGER CHECK (sold_eggs BETWEEN 0 AND 2000000),
  price_per_egg INTEGER CHECK (price_per_egg >= 0),
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
CREATE INDEX egg_records_order ON egg_records (coop_id, date, id);
CREATE INDEX egg_records_farm_order ON egg_records (coop_id, farm_id, date, id);

CREATE TABLE feed_purchases (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  farm_id BLOB NOT NULL,
  feed_id BLOB NOT NULL,
  date TEXT NOT NULL,
  kg INTEGER NOT NULL CHECK (kg BETWEEN 0 AND 1000000000),
  cost INTEGER NOT NULL CHECK (cost >= 0),
  note TEXT,
  version INTEGER NOT NULL,
  created_at INTEGER NOT NULL,
  created_by BLOB NOT NULL,
  changed_at INTEGER NOT NULL,
  changed_by BLOB NOT NULL,
  withdrawn_at INTEGER,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id, feed_id) REFERENCES feeds (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX feed_purchases_order ON feed_purchases (coop_id, date, id);
CREATE INDEX feed_purchases_farm_order ON feed_purchases (coop_id, farm_id, date, id);

CREATE TABLE other_costs (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  farm_id BLOB NOT NULL,
  date TEXT NOT NULL,
  category TEXT NOT NULL CHECK (category IN ('labour', 'water', 'power', 'repairs', 'disinfectant', 'disposal', 'interest', 'other')),
  amount INTEGER NOT NULL CHECK (amount >= 0),
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
CREATE INDEX other_costs_order ON other_costs (coop_id, date, id);
CREATE INDEX other_costs_farm_order ON other_costs (coop_id, farm_id, date, id);

CREATE TABLE assets (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  farm_id BLOB NOT NULL,
  name TEXT NOT NULL,
  in_service_on TEXT NOT NULL,
  cost INTEGER NOT NULL CHECK (cost >= 0),
  salvage_value INTEGER CHECK (salvage_value >= 0),
  life_months INTEGER NOT NULL CHECK (life_months BETWEEN 1 AND 600),
  disposed_on TEXT,
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
CREATE INDEX assets_order ON assets (coop_id, in_service_on, id);
CREATE INDEX assets_farm_order ON assets (coop_id, farm_id, in_service_on, id);

CREATE TABLE visits (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  code TEXT,
  farm_id BLOB NOT NULL,
  officer_id BLOB NOT NULL,
  started_at INTEGER NOT NULL,
  ended_at INTEGER,
  latitude INTEGER CHECK (latitude BETWEEN -9000000 AND 9000000),
  longitude INTEGER CHECK (longitude BETWEEN -18000000 AND 18000000),
  note TEXT,
  advice TEXT,
  version INTEGER NOT NULL,
  created_at INTEGER NOT NULL,
  created_by BLOB NOT NULL,
  changed_at INTEGER NOT NULL,
  changed_by BLOB NOT NULL,
  withdrawn_at INTEGER,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id, officer_id) REFERENCES people (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX visits_code_key ON visits (coop_id, code) WHERE withdrawn_at IS NULL;
CREATE INDEX visits_order ON visits (coop_id, started_at, id);
CREATE INDEX visits_farm_order ON visits (coop_id, farm_id, started_at, id);

CREATE TABLE visit_checks (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  visit_id BLOB NOT NULL,
  farm_id BLOB NOT NULL,
  checklist_item_id BLOB NOT NULL,
  answer TEXT NOT NULL CHECK (answer IN ('yes', 'no', 'not_seen')),
  note TEXT,
  version INTEGER NOT NULL,
  created_at INTEGER NOT NULL,
  created_by BLOB NOT NULL,
  changed_at INTEGER NOT NULL,
  changed_by BLOB NOT NULL,
  withdrawn_at INTEGER,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, visit_id) REFERENCES visits (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id, checklist_item_id) REFERENCES checklist_items (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX visit_checks_visit_id ON visit_checks (coop_id, visit_id, id);
CREATE INDEX visit_checks_farm_id ON visit_checks (coop_id, farm_id, id);

CREATE TABLE follow_ups (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  farm_id BLOB NOT NULL,
  visit_id BLOB,
  action TEXT NOT NULL,
  due_on TEXT NOT NULL,
  outcome TEXT CHECK (outcome IN ('done', 'not_done', 'not_needed')),
  ended_on TEXT,
  note TEXT,
  version INTEGER NOT NULL,
  created_at INTEGER NOT NULL,
  created_by BLOB NOT NULL,
  changed_at INTEGER NOT NULL,
  changed_by BLOB NOT NULL,
  withdrawn_at INTEGER,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id, visit_id) REFERENCES visits (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX follow_ups_order ON follow_ups (coop_id, due_on, id);
CREATE INDEX follow_ups_farm_order ON follow_ups (coop_id, farm_id, due_on, id);
CREATE INDEX follow_ups_visit_id ON follow_ups (coop_id, visit_id, id);

CREATE TABLE readings (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  farm_id BLOB NOT NULL,
  shed_id BLOB,
  visit_id BLOB,
  at INTEGER NOT NULL,
  temperature_c INTEGER NOT NULL CHECK (temperature_c BETWEEN -2000 AND 2000),
  humidity_percent INTEGER CHECK (humidity_percent BETWEEN 0 AND 1000),
  version INTEGER NOT NULL,
  created_at INTEGER NOT NULL,
  created_by BLOB NOT NULL,
  changed_at INTEGER NOT NULL,
  changed_by BLOB NOT NULL,
  withdrawn_at INTEGER,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id, shed_id) REFERENCES sheds (coop_id, id),
  FOREIGN KEY (coop_id, visit_id) REFERENCES visits (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX readings_order ON readings (coop_id, at, id);
CREATE INDEX readings_farm_order ON readings (coop_id, farm_id, at, id);

CREATE TABLE trainings (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  code TEXT NOT NULL,
  topic TEXT NOT NULL,
  date TEXT NOT NULL,
  place TEXT,
  trainer_id BLOB,
  note TEXT,
  version INTEGER NOT NULL,
  created_at INTEGER NOT NULL,
  created_by BLOB NOT NULL,
  changed_at INTEGER NOT NULL,
  changed_by BLOB NOT NULL,
  withdrawn_at INTEGER,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, trainer_id) REFERENCES people (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX trainings_code_key ON trainings (coop_id, code) WHERE withdrawn_at IS NULL;
CREATE INDEX trainings_order ON trainings (coop_id, date, id);

CREATE TABLE attendances (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  training_id BLOB NOT NULL,
  member_id BLOB NOT NULL,
  version INTEGER NOT NULL,
  created_at INTEGER NOT NULL,
  created_by BLOB NOT NULL,
  changed_at INTEGER NOT NULL,
  changed_by BLOB NOT NULL,
  withdrawn_at INTEGER,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, training_id) REFERENCES trainings (coop_id, id),
  FOREIGN KEY (coop_id, member_id) REFERENCES members (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX attendances_training_id ON attendances (coop_id, training_id, id);

CREATE TABLE photos (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  farm_id BLOB NOT NULL,
  visit_id BLOB,
  batch_event_id BLOB,
  taken_at INTEGER NOT NULL,
  caption TEXT,
  keep_location INTEGER NOT NULL CHECK (keep_location IN (0, 1)),
  version INTEGER NOT NULL,
  created_at INTEGER NOT NULL,
  created_by BLOB NOT NULL,
  changed_at INTEGER NOT NULL,
  changed_by BLOB NOT NULL,
  withdrawn_at INTEGER,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id, visit_id) REFERENCES visits (coop_id, id),
  FOREIGN KEY (coop_id, batch_event_id) REFERENCES batch_events (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX photos_order ON photos (coop_id, taken_at, id);
CREATE INDEX photos_farm_order ON photos (coop_id, farm_id, taken_at, id);
CREATE INDEX photos_visit_id ON photos (coop_id, visit_id, id);
CREATE INDEX photos_batch_event_id ON photos (coop_id, batch_event_id, id);

CREATE TABLE flags (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  farm_id BLOB NOT NULL,
  batch_id BLOB,
  raised_on TEXT NOT NULL,
  points_at TEXT NOT NULL CHECK (points_at IN ('farm', 'seed_lot', 'not_known')),
  evidence TEXT NOT NULL,
  seen_on TEXT,
  cause TEXT CHECK (cause IN ('mould', 'rot_at_drain_end', 'poor_germination', 'dried_out', 'pests', 'left_too_long', 'other')),
  finding TEXT,
  cleared_on TEXT,
  version INTEGER NOT NULL,
  created_at INTEGER NOT NULL,
  created_by BLOB NOT NULL,
  changed_at INTEGER NOT NULL,
  changed_by BLOB NOT NULL,
  withdrawn_at INTEGER,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id, batch_id) REFERENCES batches (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX flags_order ON flags (coop_id, raised_on, id);
CREATE INDEX flags_farm_order ON flags (coop_id, farm_id, raised_on, id);
CREATE INDEX flags_batch_id ON flags (coop_id, batch_id, id);

CREATE TABLE record_history (
  coop_id INTEGER NOT NULL,
  kind TEXT NOT NULL,
  id BLOB NOT NULL,
  version INTEGER NOT NULL,
  body TEXT NOT NULL,
  made_at INTEGER NOT NULL,
  made_by BLOB NOT NULL,
  replaced_at INTEGER NOT NULL,
  replaced_by BLOB NOT NULL,
  action TEXT NOT NULL,
  reason TEXT,
  PRIMARY KEY (coop_id, kind, id, version),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;

CREATE TABLE changes (
  coop_id INTEGER NOT NULL,
  seq INTEGER NOT NULL,
  kind TEXT NOT NULL,
  id BLOB NOT NULL,
  farm_id BLOB,
  version INTEGER NOT NULL,
  withdrawn INTEGER NOT NULL,
  PRIMARY KEY (coop_id, seq),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;

CREATE TABLE farm_months (
  coop_id INTEGER NOT NULL,
  farm_id BLOB NOT NULL,
  month INTEGER NOT NULL,
  milk_ml INTEGER NOT NULL,
  cow_days INTEGER NOT NULL,
  milk_days INTEGER NOT NULL,
  eggs INTEGER NOT NULL,
  hen_days INTEGER NOT NULL,
  cracked INTEGER NOT NULL,
  egg_days INTEGER NOT NULL,
  milk_stage INTEGER NOT NULL,
  milk_stage_animals INTEGER NOT NULL,
  egg_stage INTEGER NOT NULL,
  egg_stage_animals INTEGER NOT NULL,
  trays_started INTEGER NOT NULL,
  trays_harvested INTEGER NOT NULL,
  trays_discarded INTEGER NOT NULL,
  seed_g INTEGER NOT NULL,
  fed_g INTEGER NOT NULL,
  feed_cost_minor INTEGER NOT NULL,
  feed_purchases INTEGER NOT NULL,
  other_cost_minor INTEGER NOT NULL,
  other_costs INTEGER NOT NULL,
  PRIMARY KEY (coop_id, month, farm_id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id)
) STRICT, WITHOUT ROWID;

CREATE TABLE farm_month_feeds (
  coop_id INTEGER NOT NULL,
  farm_id BLOB NOT NULL,
  month INTEGER NOT NULL,
  feed_id BLOB NOT NULL,
  grams INTEGER NOT NULL,
  cost_minor INTEGER NOT NULL,
  records INTEGER NOT NULL,
  PRIMARY KEY (coop_id, month, farm_id, feed_id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id, feed_id) REFERENCES feeds (coop_id, id)
) STRICT, WITHOUT ROWID;

CREATE TABLE farm_month_lots (
  coop_id INTEGER NOT NULL,
  farm_id BLOB NOT NULL,
  month INTEGER NOT NULL,
  lot_id BLOB NOT NULL,
  grams INTEGER NOT NULL,
  PRIMARY KEY (coop_id, month, farm_id, lot_id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id)
) STRICT, WITHOUT ROWID;

CREATE TABLE farm_lots (
  coop_id INTEGER NOT NULL,
  farm_id BLOB NOT NULL,
  lot_id BLOB NOT NULL,
  issued_g INTEGER NOT NULL,
  issued_minor INTEGER NOT NULL,
  PRIMARY KEY (coop_id, farm_id, lot_id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id)
) STRICT, WITHOUT ROWID;

CREATE TABLE lot_totals (
  coop_id INTEGER NOT NULL,
  lot_id BLOB NOT NULL,
  bought_g INTEGER NOT NULL,
  paid_minor INTEGER NOT NULL,
  PRIMARY KEY (coop_id, lot_id),
  FOREIGN KEY (coop_id, lot_id) REFERENCES seed_lots (coop_id, id)
) STRICT, WITHOUT ROWID;

CREATE TABLE herd_months (
  coop_id INTEGER NOT NULL,
  animal_group_id BLOB NOT NULL,
  month INTEGER NOT NULL,
  animal_days INTEGER NOT NULL,
  closing_head INTEGER NOT NULL,
  PRIMARY KEY (coop_id, animal_group_id, month),
  FOREIGN KEY (coop_id, animal_group_id) REFERENCES animal_groups (coop_id, id)
) STRICT, WITHOUT ROWID;

CREATE TABLE month_closes (
  coop_id INTEGER NOT NULL,
  month INTEGER NOT NULL,
  closed_at INTEGER NOT NULL,
  closed_by BLOB NOT NULL,
  report_json TEXT NOT NULL,
  report_csv TEXT NOT NULL,
  touched INTEGER NOT NULL,
  PRIMARY KEY (coop_id, month),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;

CREATE TABLE reported_savings (
  coop_id INTEGER NOT NULL,
  month INTEGER NOT NULL,
  farm_id BLOB NOT NULL,
  reported_in INTEGER NOT NULL,
  saving_minor INTEGER,
  PRIMARY KEY (coop_id, month, farm_id, reported_in),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id)
) STRICT, WITHOUT ROWID;

CREATE TABLE photo_contents (
  coop_id INTEGER NOT NULL,
  photo_id BLOB NOT NULL,
  media_type TEXT NOT NULL,
  sha256 TEXT NOT NULL,
  content BLOB NOT NULL,
  stored_at INTEGER NOT NULL,
  PRIMARY KEY (coop_id, photo_id),
  FOREIGN KEY (coop_id, photo_id) REFERENCES photos (coop_id, id)
) STRICT;

CREATE TABLE passwords (
  coop_id INTEGER NOT NULL,
  person_id BLOB NOT NULL,
  hash TEXT NOT NULL,
  changed_at INTEGER NOT NULL,
  PRIMARY KEY (coop_id, person_id),
  FOREIGN KEY (coop_id, person_id) REFERENCES people (coop_id, id)
) STRICT, WITHOUT ROWID;

CREATE TABLE invitations (
  code_hash TEXT NOT NULL,
  coop_id INTEGER NOT NULL,
  person_id BLOB NOT NULL,
  expires_at INTEGER NOT NULL,
  used_at INTEGER,
  PRIMARY KEY (code_hash),
  FOREIGN KEY (coop_id, person_id) REFERENCES people (coop_id, id)
) STRICT, WITHOUT ROWID;

CREATE TABLE sessions (
  token_hash TEXT NOT NULL,
  family_id BLOB NOT NULL,
  coop_id INTEGER NOT NULL,
  person_id BLOB NOT NULL,
  expires_at INTEGER NOT NULL,
  used_at INTEGER,
  ended_at INTEGER,
  PRIMARY KEY (token_hash),
  FOREIGN KEY (coop_id, person_id) REFERENCES people (coop_id, id)
) STRICT, WITHOUT ROWID;

CREATE TABLE session_people (
  family_id BLOB NOT NULL,
  coop_id INTEGER NOT NULL,
  person_id BLOB NOT NULL,
  PRIMARY KEY (family_id, coop_id, person_id),
  FOREIGN KEY (coop_id, person_id) REFERENCES people (coop_id, id)
) STRICT, WITHOUT ROWID;
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

ANALYZE;
DELETE FROM sqlite_stat1;
INSERT INTO sqlite_stat1 VALUES ('cooperatives', 'cooperatives', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('cooperatives', 'cooperatives_name_key', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('cooperatives', 'cooperatives_id_key', '1000000 1');
INSERT INTO sqlite_stat1 VALUES ('areas', 'areas', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('areas', 'areas_name_key', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('growing_guide_values', 'growing_guide_values', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('growing_guide_values', 'growing_guide_values_order', '1000000 1000000 1000 1');
INSERT INTO sqlite_stat1 VALUES ('checklist_items', 'checklist_items', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('checklist_items', 'checklist_items_code_key', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('checklist_items', 'checklist_items_order', '1000000 1000000 1000 1');
INSERT INTO sqlite_stat1 VALUES ('feeds', 'feeds', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('feeds', 'feeds_name_key', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('suppliers', 'suppliers', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('suppliers', 'suppliers_name_key', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('members', 'members', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('members', 'members_number_key', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('members', 'members_order', '1000000 1000000 1000 1');
INSERT INTO sqlite_stat1 VALUES ('members', 'members_area_id', '1000000 1000000 10 1');
INSERT INTO sqlite_stat1 VALUES ('people', 'people', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('people', 'people_code_key', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('people', 'people_member_id', '1000000 1000000 10 1');
INSERT INTO sqlite_stat1 VALUES ('officer_areas', 'officer_areas', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('officer_areas', 'officer_areas_person_id', '1000000 1000000 10 1');
INSERT INTO sqlite_stat1 VALUES ('farms', 'farms', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('farms', 'farms_code_key', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('farms', 'farms_member_id', '1000000 1000000 10 1');
INSERT INTO sqlite_stat1 VALUES ('farms', 'farms_area_id', '1000000 1000000 10 1');
INSERT INTO sqlite_stat1 VALUES ('sheds', 'sheds', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('sheds', 'sheds_code_key', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('sheds', 'sheds_farm_id', '1000000 1000000 10 1');
INSERT INTO sqlite_stat1 VALUES ('animal_groups', 'animal_groups', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('animal_groups', 'animal_groups_code_key', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('animal_groups', 'animal_groups_farm_id', '1000000 1000000 10 1');
INSERT INTO sqlite_stat1 VALUES ('head_counts', 'head_counts', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('head_counts', 'head_counts_order', '1000000 1000000 1000 1');
INSERT INTO sqlite_stat1 VALUES ('head_counts', 'head_counts_farm_order', '1000000 1000000 500 3 1');
INSERT INTO sqlite_stat1 VALUES ('head_counts', 'head_counts_animal_group_id', '1000000 1000000 10 1');
INSERT INTO sqlite_stat1 VALUES ('baseline_rations', 'baseline_rations', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('baseline_rations', 'baseline_rations_order', '1000000 1000000 1000 1');
INSERT INTO sqlite_stat1 VALUES ('baseline_rations', 'baseline_rations_farm_order', '1000000 1000000 500 3 1');
INSERT INTO sqlite_stat1 VALUES ('baseline_rations', 'baseline_rations_animal_group_id', '1000000 1000000 10 1');
INSERT INTO sqlite_stat1 VALUES ('seed_lots', 'seed_lots', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('seed_lots', 'seed_lots_code_key', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('seed_purchases', 'seed_purchases', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('seed_purchases', 'seed_purchases_order', '1000000 1000000 1000 1');
INSERT INTO sqlite_stat1 VALUES ('seed_purchases', 'seed_purchases_seed_lot_id', '1000000 1000000 10 1');
INSERT INTO sqlite_stat1 VALUES ('seed_issues', 'seed_issues', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('seed_issues', 'seed_issues_order', '1000000 1000000 1000 1');
INSERT INTO sqlite_stat1 VALUES ('seed_issues', 'seed_issues_farm_order', '1000000 1000000 500 3 1');
INSERT INTO sqlite_stat1 VALUES ('seed_adjustments', 'seed_adjustments', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('seed_adjustments', 'seed_adjustments_order', '1000000 1000000 1000 1');
INSERT INTO sqlite_stat1 VALUES ('batches', 'batches', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('batches', 'batches_code_key', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('batches', 'batches_farm_id', '1000000 1000000 10 1');
INSERT INTO sqlite_stat1 VALUES ('batches', 'batches_seed_lot_id', '1000000 1000000 10 1');
INSERT INTO sqlite_stat1 VALUES ('batch_events', 'batch_events', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('batch_events', 'batch_events_order', '1000000 1000000 1000 1');
INSERT INTO sqlite_stat1 VALUES ('batch_events', 'batch_events_farm_order', '1000000 1000000 500 3 1');
INSERT INTO sqlite_stat1 VALUES ('batch_events', 'batch_events_batch_id', '1000000 1000000 10 1');
INSERT INTO sqlite_stat1 VALUES ('milk_records', 'milk_records', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('milk_records', 'milk_records_order', '1000000 1000000 1000 1');
INSERT INTO sqlite_stat1 VALUES ('milk_records', 'milk_records_farm_order', '1000000 1000000 500 3 1');
INSERT INTO sqlite_stat1 VALUES ('egg_records', 'egg_records', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('egg_records', 'egg_records_order', '1000000 1000000 1000 1');
INSERT INTO sqlite_stat1 VALUES ('egg_records', 'egg_records_farm_order', '1000000 1000000 500 3 1');
INSERT INTO sqlite_stat1 VALUES ('feed_purchases', 'feed_purchases', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('feed_purchases', 'feed_purchases_order', '1000000 1000000 1000 1');
INSERT INTO sqlite_stat1 VALUES ('feed_purchases', 'feed_purchases_farm_order', '1000000 1000000 500 3 1');
INSERT INTO sqlite_stat1 VALUES ('other_costs', 'other_costs', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('other_costs', 'other_costs_order', '1000000 1000000 1000 1');
INSERT INTO sqlite_stat1 VALUES ('other_costs', 'other_costs_farm_order', '1000000 1000000 500 3 1');
INSERT INTO sqlite_stat1 VALUES ('assets', 'assets', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('assets', 'assets_order', '1000000 1000000 1000 1');
INSERT INTO sqlite_stat1 VALUES ('assets', 'assets_farm_order', '1000000 1000000 500 3 1');
INSERT INTO sqlite_stat1 VALUES ('visits', 'visits', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('visits', 'visits_code_key', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('visits', 'visits_order', '1000000 1000000 1000 1');
INSERT INTO sqlite_stat1 VALUES ('visits', 'visits_farm_order', '1000000 1000000 500 3 1');
INSERT INTO sqlite_stat1 VALUES ('visit_checks', 'visit_checks', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('visit_checks', 'visit_checks_visit_id', '1000000 1000000 10 1');
INSERT INTO sqlite_stat1 VALUES ('visit_checks', 'visit_checks_farm_id', '1000000 1000000 10 1');
INSERT INTO sqlite_stat1 VALUES ('follow_ups', 'follow_ups', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('follow_ups', 'follow_ups_order', '1000000 1000000 1000 1');
INSERT INTO sqlite_stat1 VALUES ('follow_ups', 'follow_ups_farm_order', '1000000 1000000 500 3 1');
INSERT INTO sqlite_stat1 VALUES ('follow_ups', 'follow_ups_visit_id', '1000000 1000000 10 1');
INSERT INTO sqlite_stat1 VALUES ('readings', 'readings', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('readings', 'readings_order', '1000000 1000000 1000 1');
INSERT INTO sqlite_stat1 VALUES ('readings', 'readings_farm_order', '1000000 1000000 500 3 1');
INSERT INTO sqlite_stat1 VALUES ('trainings', 'trainings', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('trainings', 'trainings_code_key', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('trainings', 'trainings_order', '1000000 1000000 1000 1');
INSERT INTO sqlite_stat1 VALUES ('attendances', 'attendances', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('attendances', 'attendances_training_id', '1000000 1000000 10 1');
INSERT INTO sqlite_stat1 VALUES ('photos', 'photos', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('photos', 'photos_order', '1000000 1000000 1000 1');
INSERT INTO sqlite_stat1 VALUES ('photos', 'photos_farm_order', '1000000 1000000 500 3 1');
INSERT INTO sqlite_stat1 VALUES ('photos', 'photos_visit_id', '1000000 1000000 10 1');
INSERT INTO sqlite_stat1 VALUES ('photos', 'photos_batch_event_id', '1000000 1000000 10 1');
INSERT INTO sqlite_stat1 VALUES ('flags', 'flags', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('flags', 'flags_order', '1000000 1000000 1000 1');
INSERT INTO sqlite_stat1 VALUES ('flags', 'flags_farm_order', '1000000 1000000 500 3 1');
INSERT INTO sqlite_stat1 VALUES ('flags', 'flags_batch_id', '1000000 1000000 10 1');
INSERT INTO sqlite_stat1 VALUES ('record_history', 'record_history', '1000000 1000000 30000 2 1');
INSERT INTO sqlite_stat1 VALUES ('changes', 'changes', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('farm_months', 'farm_months', '100000 100000 2000 1');
INSERT INTO sqlite_stat1 VALUES ('farm_month_feeds', 'farm_month_feeds', '400000 400000 8000 4 1');
INSERT INTO sqlite_stat1 VALUES ('farm_month_lots', 'farm_month_lots', '100000 100000 2000 2 1');
INSERT INTO sqlite_stat1 VALUES ('farm_lots', 'farm_lots', '20000 20000 10 1');
INSERT INTO sqlite_stat1 VALUES ('lot_totals', 'lot_totals', '200 200 1');
INSERT INTO sqlite_stat1 VALUES ('herd_months', 'herd_months', '50000 50000 10 1');
INSERT INTO sqlite_stat1 VALUES ('month_closes', 'month_closes', '100 100 1');
INSERT INTO sqlite_stat1 VALUES ('reported_savings', 'reported_savings', '100000 100000 2000 2 1');
