ALTER TABLE farm_months DROP COLUMN eggs_sold_minor;
ALTER TABLE farm_months DROP COLUMN eggs_sold;
ALTER TABLE farm_months DROP COLUMN milk_sold_minor;
ALTER TABLE farm_months DROP COLUMN milk_sold_ml;
