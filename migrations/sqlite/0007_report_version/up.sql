-- Which form of the savings report a closed month holds, so that every later program can read it.
ALTER TABLE month_closes ADD COLUMN report_version INTEGER NOT NULL DEFAULT 1;
