-- Trials: who starts when, by lot, and months with and without fodder on farms that agree.
CREATE TABLE start_plans (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  name TEXT NOT NULL,
  enterprise TEXT NOT NULL CHECK (enterprise IN ('milk', 'eggs')),
  first_month TEXT NOT NULL,
  starts TEXT NOT NULL,
  seed TEXT NOT NULL,
  drawn_on TEXT NOT NULL,
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
CREATE INDEX start_plans_order ON start_plans (coop_id, drawn_on, id);

CREATE TABLE start_places (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  start_plan_id BLOB NOT NULL,
  farm_id BLOB NOT NULL,
  place INTEGER NOT NULL CHECK (place BETWEEN 0 AND 100000),
  area_id BLOB NOT NULL,
  head INTEGER NOT NULL CHECK (head BETWEEN 0 AND 1000000),
  month INTEGER CHECK (month BETWEEN 0 AND 35),
  note TEXT,
  version INTEGER NOT NULL,
  created_at INTEGER NOT NULL,
  created_by BLOB NOT NULL,
  changed_at INTEGER NOT NULL,
  changed_by BLOB NOT NULL,
  withdrawn_at INTEGER,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, start_plan_id) REFERENCES start_plans (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id, area_id) REFERENCES areas (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX start_places_start_plan_id ON start_places (coop_id, start_plan_id, id);
CREATE INDEX start_places_farm_id ON start_places (coop_id, farm_id, id);

CREATE TABLE on_off_plans (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  farm_id BLOB NOT NULL,
  enterprise TEXT NOT NULL CHECK (enterprise IN ('milk', 'eggs')),
  first_month TEXT NOT NULL,
  blocks INTEGER NOT NULL CHECK (blocks BETWEEN 2 AND 24),
  block_months INTEGER NOT NULL CHECK (block_months BETWEEN 1 AND 6),
  unused_months INTEGER NOT NULL CHECK (unused_months BETWEEN 0 AND 5),
  seed TEXT NOT NULL,
  drawn_on TEXT NOT NULL,
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
CREATE INDEX on_off_plans_order ON on_off_plans (coop_id, first_month, id);
CREATE INDEX on_off_plans_farm_order ON on_off_plans (coop_id, farm_id, first_month, id);
INSERT INTO sqlite_stat1 VALUES ('start_places', 'start_places', '10000 10000 1');
INSERT INTO sqlite_stat1 VALUES ('start_places', 'start_places_start_plan_id', '10000 10000 200 1');
INSERT INTO sqlite_stat1 VALUES ('start_places', 'start_places_farm_id', '10000 10000 2 1');
