CREATE TABLE correction_requests (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  farm_id UUID NOT NULL,
  about TEXT COLLATE "C" NOT NULL CHECK (about IN ('batch', 'milk', 'eggs', 'feed', 'seed', 'money', 'animals', 'visit', 'other')),
  batch_id UUID,
  asked_on DATE NOT NULL,
  wish TEXT COLLATE "C" NOT NULL,
  answer TEXT COLLATE "C",
  answered_on DATE,
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
CREATE INDEX correction_requests_order ON correction_requests (coop_id, asked_on, id);
CREATE INDEX correction_requests_farm_order ON correction_requests (coop_id, farm_id, asked_on, id);
