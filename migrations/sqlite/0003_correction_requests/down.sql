DELETE FROM sqlite_stat1 WHERE tbl = 'correction_requests';
DROP TABLE correction_requests;
