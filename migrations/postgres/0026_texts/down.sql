DROP TABLE text_records;
DROP TABLE text_turns;
DROP TABLE texts_out;
DROP TABLE texts_in;
DROP TABLE text_numbers;
