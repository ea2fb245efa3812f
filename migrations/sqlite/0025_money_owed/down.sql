DELETE FROM growing_guide_values WHERE value > 1000000000;
PRAGMA writable_schema = ON;
UPDATE sqlite_schema SET sql = REPLACE(sql, '  value INTEGER NOT NULL CHECK (value BETWEEN 0 AND 1000000000000),', '  value INTEGER NOT NULL CHECK (value BETWEEN 0 AND 1000000000),') WHERE type = 'table' AND name = 'growing_guide_values';
PRAGMA writable_schema = RESET;
CREATE TABLE schema_read_anew (x INTEGER);
DROP TABLE schema_read_anew;
DROP TABLE deductions;
DELETE FROM sqlite_stat1 WHERE tbl = 'deductions';
