-- Lists of words that grow with the program are held by the rules of records. A CHECK of them is no
-- reason to make a table anew.
-- SQLite has no ALTER for it. This is its way for a change that leaves the rows as they are ("Making
-- Other Kinds Of Table Schema Changes" of its documentation of ALTER TABLE; from memory).
PRAGMA writable_schema = ON;
UPDATE sqlite_schema SET sql = REPLACE(sql, '  language TEXT NOT NULL CHECK (language IN (''en'', ''sw'')),', '  language TEXT NOT NULL,') WHERE type = 'table' AND name IN ('cooperatives', 'members', 'people');
UPDATE sqlite_schema SET sql = REPLACE(sql, '  name TEXT NOT NULL CHECK (name IN (''soak_hours'', ''incubate_hours'', ''seed_kg_per_tray'', ''drain_gap_cm'', ''waterings_per_day'', ''harvest_age_days'', ''animals_per_tray'', ''fresh_kg_per_kg_seed'', ''fodder_water_percent'', ''seed_dry_matter_percent'', ''full_trays'', ''tray_most_percent'', ''young_loss_percent'', ''short_days_percent'', ''water_litres_per_kg_fresh'', ''labour_minutes_per_tray'', ''seed_lead_days'', ''seed_service_percent'', ''seed_bag_kg'', ''silent_days'', ''sorghum_allowed'')),', '  name TEXT NOT NULL,') WHERE type = 'table' AND name IN ('growing_guide_values');
UPDATE sqlite_schema SET sql = REPLACE(sql, '  rule TEXT NOT NULL CHECK (rule IN (''store_stock_below_zero'', ''farm_stock_below_zero'', ''more_trays_out_than_spread'', ''more_fed_than_harvested'', ''yield_impossible'', ''yield_unlikely'', ''events_out_of_order'', ''fed_over_age'', ''fed_with_mould'', ''held_lot_soaked'', ''shed_over_full'', ''silent_farm'', ''repeated_values'', ''rounded_values'', ''output_jump'', ''head_jump'', ''feed_price'', ''feed_kg'', ''feed_gap'', ''feed_stock'', ''ration_not_bought'', ''guide_dry_matter'', ''thrown_without_weight'', ''price_outlier'', ''amount_outlier'', ''ration_too_much'', ''ration_cost'', ''unit_slip'', ''level_shift'', ''herd_implied'', ''check_level'')),', '  rule TEXT NOT NULL,') WHERE type = 'table' AND name IN ('review_acceptances');
PRAGMA writable_schema = RESET;
-- Another change of the schema lets every connection read it anew.
CREATE TABLE schema_read_anew (x INTEGER);
DROP TABLE schema_read_anew;
