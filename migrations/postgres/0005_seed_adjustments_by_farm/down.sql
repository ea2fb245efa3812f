DROP INDEX seed_adjustments_farm_id;
