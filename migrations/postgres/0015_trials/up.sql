-- Trials: who starts when, by lot, and months with and without fodder on farms that agree.
CREATE TABLE start_plans (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  name TEXT COLLATE "C" NOT NULL,
  enterprise TEXT COLLATE "C" NOT NULL CHECK (enterprise IN ('milk', 'eggs')),
  first_month DATE NOT NULL,
  starts TEXT COLLATE "C" NOT NULL,
  seed TEXT COLLATE "C" NOT NULL,
  drawn_on DATE NOT NULL,
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
CREATE INDEX start_plans_order ON start_plans (coop_id, drawn_on, id);

CREATE TABLE start_places (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  start_plan_id UUID NOT NULL,
  farm_id UUID NOT NULL,
  place BIGINT NOT NULL CHECK (place BETWEEN 0 AND 100000),
  area_id UUID NOT NULL,
  head BIGINT NOT NULL CHECK (head BETWEEN 0 AND 1000000),
  month BIGINT CHECK (month BETWEEN 0 AND 35),
  note TEXT COLLATE "C",
  version BIGINT NOT NULL,
  created_at TIMESTAMPTZ NOT NULL,
  created_by UUID NOT NULL,
  changed_at TIMESTAMPTZ NOT NULL,
  changed_by UUID NOT NULL,
  withdrawn_at TIMESTAMPTZ,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, start_plan_id) REFERENCES start_plans (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id, area_id) REFERENCES areas (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);
CREATE INDEX start_places_start_plan_id ON start_places (coop_id, start_plan_id, id);
CREATE INDEX start_places_farm_id ON start_places (coop_id, farm_id, id);

CREATE TABLE on_off_plans (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  farm_id UUID NOT NULL,
  enterprise TEXT COLLATE "C" NOT NULL CHECK (enterprise IN ('milk', 'eggs')),
  first_month DATE NOT NULL,
  blocks BIGINT NOT NULL CHECK (blocks BETWEEN 2 AND 24),
  block_months BIGINT NOT NULL CHECK (block_months BETWEEN 1 AND 6),
  unused_months BIGINT NOT NULL CHECK (unused_months BETWEEN 0 AND 5),
  seed TEXT COLLATE "C" NOT NULL,
  drawn_on DATE NOT NULL,
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
CREATE INDEX on_off_plans_order ON on_off_plans (coop_id, first_month, id);
CREATE INDEX on_off_plans_farm_order ON on_off_plans (coop_id, farm_id, first_month, id);
