DROP TABLE text_records;
DROP TABLE text_turns;
DROP TABLE texts_out;
DROP TABLE texts_in;
DROP TABLE text_numbers;
DELETE FROM sqlite_stat1 WHERE tbl IN ('text_numbers', 'texts_in', 'texts_out', 'text_turns', 'text_records');
