DROP INDEX batch_events_unweighed;
