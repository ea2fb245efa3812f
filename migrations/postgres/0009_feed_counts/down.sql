DELETE FROM review_acceptances WHERE rule IN ('feed_price', 'feed_kg', 'feed_gap', 'feed_stock', 'ration_not_bought');
ALTER TABLE review_acceptances DROP CONSTRAINT review_acceptances_rule_check;
ALTER TABLE review_acceptances ADD CONSTRAINT review_acceptances_rule_check CHECK (rule IN ('store_stock_below_zero', 'farm_stock_below_zero', 'more_trays_out_than_spread', 'more_fed_than_harvested', 'yield_impossible', 'yield_unlikely', 'events_out_of_order', 'fed_over_age', 'fed_with_mould', 'held_lot_soaked', 'shed_over_full', 'silent_farm', 'repeated_values', 'rounded_values', 'output_jump', 'head_jump'));
DROP INDEX feed_purchases_farm_id_feed_id_date;
ALTER TABLE feed_purchases DROP COLUMN animal_group_id;
DROP TABLE feed_counts;
