DROP TABLE seed_accounts;
ALTER TABLE month_snapshots DROP COLUMN total;
DELETE FROM sqlite_stat1 WHERE tbl = 'seed_accounts';
