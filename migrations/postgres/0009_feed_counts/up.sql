-- Feed left in a farm's store; which animals a purchase is for; findings about purchases that can be
-- accepted.

CREATE TABLE feed_counts (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  farm_id UUID NOT NULL,
  feed_id UUID NOT NULL,
  date DATE NOT NULL,
  kg BIGINT NOT NULL CHECK (kg BETWEEN 0 AND 1000000000),
  animal_group_id UUID,
  note TEXT COLLATE "C",
  version BIGINT NOT NULL,
  created_at TIMESTAMPTZ NOT NULL,
  created_by UUID NOT NULL,
  changed_at TIMESTAMPTZ NOT NULL,
  changed_by UUID NOT NULL,
  withdrawn_at TIMESTAMPTZ,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id, feed_id) REFERENCES feeds (coop_id, id),
  FOREIGN KEY (coop_id, animal_group_id) REFERENCES animal_groups (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
);
CREATE INDEX feed_counts_order ON feed_counts (coop_id, date, id);
CREATE INDEX feed_counts_farm_order ON feed_counts (coop_id, farm_id, date, id);
CREATE INDEX feed_counts_farm_id_feed_id_date ON feed_counts (coop_id, farm_id, feed_id, date, id);

ALTER TABLE feed_purchases ADD COLUMN animal_group_id UUID;
ALTER TABLE feed_purchases ADD FOREIGN KEY (coop_id, animal_group_id) REFERENCES animal_groups (coop_id, id);
CREATE INDEX feed_purchases_farm_id_feed_id_date ON feed_purchases (coop_id, farm_id, feed_id, date, id);

ALTER TABLE review_acceptances DROP CONSTRAINT review_acceptances_rule_check;
ALTER TABLE review_acceptances ADD CONSTRAINT review_acceptances_rule_check CHECK (rule IN ('store_stock_below_zero', 'farm_stock_below_zero', 'more_trays_out_than_spread', 'more_fed_than_harvested', 'yield_impossible', 'yield_unlikely', 'events_out_of_order', 'fed_over_age', 'fed_with_mould', 'held_lot_soaked', 'shed_over_full', 'silent_farm', 'repeated_values', 'rounded_values', 'output_jump', 'head_jump', 'feed_price', 'feed_kg', 'feed_gap', 'feed_stock', 'ration_not_bought'));
