DELETE FROM sqlite_stat1 WHERE tbl = 'farm_snapshots';
DROP TABLE farm_snapshots;
DROP TABLE coop_snapshots;
ALTER TABLE coop_counters DROP COLUMN revision;
