DROP TABLE sign_in_failures;
DELETE FROM sqlite_stat1 WHERE tbl = 'sign_in_failures';
