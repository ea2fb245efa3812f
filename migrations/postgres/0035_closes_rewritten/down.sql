ALTER TABLE month_closes DROP COLUMN rewritten;
