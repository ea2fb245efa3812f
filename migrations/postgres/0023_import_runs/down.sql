DROP TABLE import_rows;
DROP TABLE import_runs;
