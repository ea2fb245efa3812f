DROP TABLE security_log;
DROP TABLE security_chains;
DELETE FROM sqlite_stat1 WHERE tbl = 'security_log';
