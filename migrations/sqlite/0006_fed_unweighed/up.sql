-- Fodder that was fed without being weighed, so that a month's report finds it among tens of
-- thousands of events.
CREATE INDEX batch_events_unweighed ON batch_events (coop_id, at, farm_id)
  WHERE event = 'fed_out' AND COALESCE(kg, 0) = 0 AND withdrawn_at IS NULL;
INSERT INTO sqlite_stat1 VALUES
  ('batch_events', 'batch_events_unweighed', '10000 10000 20 1 1');
