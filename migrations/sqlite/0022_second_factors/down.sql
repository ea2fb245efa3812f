DROP TABLE sign_in_notices;
DROP TABLE recovery_codes;
DROP TABLE second_factors;
DROP TABLE sign_ins;
DELETE FROM sqlite_stat1 WHERE tbl IN ('sign_ins', 'second_factors', 'recovery_codes', 'sign_in_notices');
