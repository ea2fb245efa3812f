-- Days on which somebody plans to visit a farm; the member is reminded the day before.
CREATE TABLE visit_plans (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  farm_id UUID NOT NULL,
  planned_on DATE NOT NULL,
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
CREATE INDEX visit_plans_order ON visit_plans (coop_id, planned_on, id);
CREATE INDEX visit_plans_farm_order ON visit_plans (coop_id, farm_id, planned_on, id);
-- Menus over USSD that are open: what was chosen so far, and the answer to the last input.
CREATE TABLE text_menus (
  coop_id BIGINT NOT NULL,
  carrier TEXT COLLATE "C" NOT NULL,
  session TEXT COLLATE "C" NOT NULL,
  number TEXT COLLATE "C" NOT NULL,
  state TEXT COLLATE "C" NOT NULL,
  steps BIGINT NOT NULL,
  touched_at TIMESTAMPTZ NOT NULL,
  PRIMARY KEY (coop_id, carrier, session),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);
CREATE INDEX text_menus_touched ON text_menus (coop_id, touched_at);
CREATE INDEX text_menus_number ON text_menus (coop_id, number);
