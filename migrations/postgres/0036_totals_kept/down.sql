DROP TABLE seed_accounts;
ALTER TABLE month_snapshots DROP COLUMN total;
