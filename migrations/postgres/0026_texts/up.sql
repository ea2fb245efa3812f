-- Text messages of members. `text_numbers` says whose a telephone number is and what it may hear;
-- `texts_in` holds what came, `texts_out` what is to be sent, `text_turns` what was said last with
-- a number, `text_records` which records a text made.
CREATE TABLE text_numbers (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  number TEXT COLLATE "C" NOT NULL,
  member_id UUID NOT NULL,
  farm_id UUID,
  state TEXT COLLATE "C" NOT NULL,
  language TEXT COLLATE "C" NOT NULL,
  answers BOOLEAN NOT NULL,
  reminders BOOLEAN NOT NULL,
  cautions BOOLEAN NOT NULL,
  money BOOLEAN NOT NULL,
  consent_on DATE NOT NULL,
  code_hash TEXT COLLATE "C",
  code_until TIMESTAMPTZ,
  code_tries BIGINT NOT NULL,
  verified_at TIMESTAMPTZ,
  chosen_at TIMESTAMPTZ,
  heard_at TIMESTAMPTZ,
  made_by UUID NOT NULL,
  made_at TIMESTAMPTZ NOT NULL,
  ended_at TIMESTAMPTZ,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, member_id) REFERENCES members (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id)
);
CREATE INDEX text_numbers_number ON text_numbers (coop_id, number, id);
CREATE TABLE texts_in (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  carrier TEXT COLLATE "C" NOT NULL,
  carrier_id TEXT COLLATE "C" NOT NULL,
  content_key TEXT COLLATE "C" NOT NULL,
  number TEXT COLLATE "C" NOT NULL,
  is_known BOOLEAN NOT NULL,
  sent_at TIMESTAMPTZ,
  taken_at TIMESTAMPTZ NOT NULL,
  body TEXT COLLATE "C",
  outcome TEXT COLLATE "C" NOT NULL,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);
CREATE INDEX texts_in_content ON texts_in (coop_id, content_key, taken_at);
CREATE INDEX texts_in_taken ON texts_in (coop_id, taken_at, id);
CREATE TABLE texts_out (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  seq BIGINT NOT NULL,
  number TEXT COLLATE "C" NOT NULL,
  body TEXT COLLATE "C",
  purpose TEXT COLLATE "C" NOT NULL,
  dedup_key TEXT COLLATE "C" NOT NULL,
  segments BIGINT NOT NULL,
  state TEXT COLLATE "C" NOT NULL,
  not_before TIMESTAMPTZ NOT NULL,
  expires_at TIMESTAMPTZ NOT NULL,
  made_at TIMESTAMPTZ NOT NULL,
  tries BIGINT NOT NULL,
  lease_until TIMESTAMPTZ,
  carrier TEXT COLLATE "C",
  settled_at TIMESTAMPTZ,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);
CREATE UNIQUE INDEX texts_out_dedup ON texts_out (coop_id, dedup_key);
CREATE INDEX texts_out_due ON texts_out (coop_id, state, not_before, seq);
CREATE INDEX texts_out_number ON texts_out (coop_id, number, state, seq);
CREATE INDEX texts_out_made ON texts_out (coop_id, made_at, id);
CREATE TABLE text_turns (
  coop_id BIGINT NOT NULL,
  number TEXT COLLATE "C" NOT NULL,
  pending TEXT COLLATE "C",
  pending_at TIMESTAMPTZ,
  list TEXT COLLATE "C",
  list_on DATE,
  last TEXT COLLATE "C",
  last_at TIMESTAMPTZ,
  recent TEXT COLLATE "C",
  day DATE NOT NULL,
  records BIGINT NOT NULL,
  answers BIGINT NOT NULL,
  undos BIGINT NOT NULL,
  PRIMARY KEY (coop_id, number),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);
CREATE TABLE text_records (
  coop_id BIGINT NOT NULL,
  kind TEXT COLLATE "C" NOT NULL,
  id UUID NOT NULL,
  version BIGINT NOT NULL,
  text_id UUID NOT NULL,
  PRIMARY KEY (coop_id, kind, id, version),
  FOREIGN KEY (coop_id, text_id) REFERENCES texts_in (coop_id, id)
);
CREATE INDEX text_records_text ON text_records (coop_id, text_id);
