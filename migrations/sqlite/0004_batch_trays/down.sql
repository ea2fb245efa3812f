DELETE FROM sqlite_stat1 WHERE tbl = 'batch_trays';
DROP TABLE batch_trays;
