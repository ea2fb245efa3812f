DROP TABLE feed_floors;
DELETE FROM sqlite_stat1 WHERE tbl = 'feed_floors';
