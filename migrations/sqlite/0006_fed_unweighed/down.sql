DELETE FROM sqlite_stat1 WHERE idx = 'batch_events_unweighed';
DROP INDEX batch_events_unweighed;
