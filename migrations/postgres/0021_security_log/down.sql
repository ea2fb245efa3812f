DROP TABLE security_log;
DROP FUNCTION security_log_stays();
DROP TABLE security_chains;
