DROP TABLE import_layouts;
DELETE FROM sqlite_stat1 WHERE tbl = 'import_layouts';
