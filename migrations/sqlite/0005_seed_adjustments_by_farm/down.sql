DELETE FROM sqlite_stat1 WHERE idx = 'seed_adjustments_farm_id';
DROP INDEX seed_adjustments_farm_id;
