DROP TABLE import_rows;
DROP TABLE import_runs;
DELETE FROM sqlite_stat1 WHERE tbl IN ('import_runs', 'import_rows');
