-- Fodder that was fed without being weighed, so that a month's report finds it among tens of
-- thousands of events.
CREATE INDEX batch_events_unweighed ON batch_events (coop_id, at, farm_id)
  WHERE event = 'fed_out' AND COALESCE(kg, 0) = 0 AND withdrawn_at IS NULL;
