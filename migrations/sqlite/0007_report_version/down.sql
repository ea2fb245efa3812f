ALTER TABLE month_closes DROP COLUMN report_version;
