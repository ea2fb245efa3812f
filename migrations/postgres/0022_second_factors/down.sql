DROP TABLE sign_in_notices;
DROP TABLE recovery_codes;
DROP TABLE second_factors;
DROP TABLE sign_ins;
