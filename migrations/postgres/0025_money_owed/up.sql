-- A credit limit is a standard of the guide in currency units: up to 1,000,000,000 of them, kept as
-- thousandths.
ALTER TABLE growing_guide_values DROP CONSTRAINT growing_guide_values_value_check;
ALTER TABLE growing_guide_values ADD CONSTRAINT growing_guide_values_value_check CHECK (value BETWEEN 0 AND 1000000000000);
CREATE TABLE deductions (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  farm_id UUID NOT NULL,
  date DATE NOT NULL,
  amount BIGINT NOT NULL CHECK (amount >= 0),
  reason TEXT COLLATE "C" NOT NULL,
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
CREATE INDEX deductions_order ON deductions (coop_id, date, id);
CREATE INDEX deductions_farm_order ON deductions (coop_id, farm_id, date, id);

