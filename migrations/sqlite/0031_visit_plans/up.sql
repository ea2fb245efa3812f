-- Days on which somebody plans to visit a farm; the member is reminded the day before.
CREATE TABLE visit_plans (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  farm_id BLOB NOT NULL,
  planned_on TEXT NOT NULL,
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
CREATE INDEX visit_plans_order ON visit_plans (coop_id, planned_on, id);
CREATE INDEX visit_plans_farm_order ON visit_plans (coop_id, farm_id, planned_on, id);
-- Menus over USSD that are open: what was chosen so far, and the answer to the last input.
CREATE TABLE text_menus (
  coop_id INTEGER NOT NULL,
  carrier TEXT NOT NULL,
  session TEXT NOT NULL,
  number TEXT NOT NULL,
  state TEXT NOT NULL,
  steps INTEGER NOT NULL,
  touched_at INTEGER NOT NULL,
  PRIMARY KEY (coop_id, carrier, session),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX text_menus_touched ON text_menus (coop_id, touched_at);
CREATE INDEX text_menus_number ON text_menus (coop_id, number);
INSERT INTO sqlite_stat1 VALUES ('visit_plans', 'visit_plans', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('visit_plans', 'visit_plans_order', '1000000 1000000 1000 1');
INSERT INTO sqlite_stat1 VALUES ('visit_plans', 'visit_plans_farm_order', '1000000 1000000 500 3 1');
INSERT INTO sqlite_stat1 VALUES ('text_menus', 'text_menus', '1000 1000 500 1');
INSERT INTO sqlite_stat1 VALUES ('text_menus', 'text_menus_touched', '1000 1000 1');
INSERT INTO sqlite_stat1 VALUES ('text_menus', 'text_menus_number', '1000 1000 2');
