-- Sums of a month by group of members who agreed to be counted, a row a figure, written when figures
-- are made: so that one statement adds up many co-operatives. `people` are behind the figure, `top` and
-- `bottom` its sums, `half` the half width of its 95 % interval. Hidden is what the co-operative's own
-- table hides.
CREATE TABLE programme_cells (
  coop_id BIGINT NOT NULL,
  month BIGINT NOT NULL,
  division TEXT COLLATE "C" NOT NULL,
  cell TEXT COLLATE "C" NOT NULL,
  figure TEXT COLLATE "C" NOT NULL,
  currency TEXT COLLATE "C" NOT NULL,
  people BIGINT NOT NULL,
  is_hidden BOOLEAN NOT NULL,
  top BIGINT NOT NULL,
  bottom BIGINT NOT NULL,
  half BIGINT,
  PRIMARY KEY (coop_id, month, division, cell, figure),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);
CREATE INDEX programme_cells_month ON programme_cells (month, division, coop_id);
-- Who may read the sums of which co-operative, until when; of all where none is named.
CREATE TABLE programme_grants (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  person_id UUID NOT NULL,
  of_coop_id BIGINT,
  given_at TIMESTAMPTZ NOT NULL,
  given_by TEXT COLLATE "C" NOT NULL,
  until DATE NOT NULL,
  ended_at TIMESTAMPTZ,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, person_id) REFERENCES people (coop_id, id)
);
