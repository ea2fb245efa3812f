-- A credit limit is a standard of the guide in currency units: up to 1,000,000,000 of them, kept as
-- thousandths. For the way see 0017.
PRAGMA writable_schema = ON;
UPDATE sqlite_schema SET sql = REPLACE(sql, '  value INTEGER NOT NULL CHECK (value BETWEEN 0 AND 1000000000),', '  value INTEGER NOT NULL CHECK (value BETWEEN 0 AND 1000000000000),') WHERE type = 'table' AND name = 'growing_guide_values';
PRAGMA writable_schema = RESET;
CREATE TABLE schema_read_anew (x INTEGER);
DROP TABLE schema_read_anew;
CREATE TABLE deductions (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  farm_id BLOB NOT NULL,
  date TEXT NOT NULL,
  amount INTEGER NOT NULL CHECK (amount >= 0),
  reason TEXT NOT NULL,
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
CREATE INDEX deductions_order ON deductions (coop_id, date, id);
CREATE INDEX deductions_farm_order ON deductions (coop_id, farm_id, date, id);
INSERT INTO sqlite_stat1 VALUES ('deductions', 'deductions', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('deductions', 'deductions_order', '1000000 1000000 1000 1');
INSERT INTO sqlite_stat1 VALUES ('deductions', 'deductions_farm_order', '1000000 1000000 500 3 1');
