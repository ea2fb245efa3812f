DROP TABLE import_wait_parts;
DROP TABLE import_waits;
