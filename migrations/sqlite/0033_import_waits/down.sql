DROP TABLE import_wait_parts;
DROP TABLE import_waits;
DELETE FROM sqlite_stat1 WHERE tbl IN ('import_waits', 'import_wait_parts');
