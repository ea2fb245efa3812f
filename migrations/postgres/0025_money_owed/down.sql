DELETE FROM growing_guide_values WHERE value > 1000000000;
ALTER TABLE growing_guide_values DROP CONSTRAINT growing_guide_values_value_check;
ALTER TABLE growing_guide_values ADD CONSTRAINT growing_guide_values_value_check CHECK (value BETWEEN 0 AND 1000000000);
DROP TABLE deductions;
