-- What was sold of milk and eggs, and for how much: the price that output is counted at.
ALTER TABLE farm_months ADD COLUMN milk_sold_ml INTEGER NOT NULL DEFAULT 0;
ALTER TABLE farm_months ADD COLUMN milk_sold_minor INTEGER NOT NULL DEFAULT 0;
ALTER TABLE farm_months ADD COLUMN eggs_sold INTEGER NOT NULL DEFAULT 0;
ALTER TABLE farm_months ADD COLUMN eggs_sold_minor INTEGER NOT NULL DEFAULT 0;
UPDATE farm_months SET milk_sold_ml = s.sold, milk_sold_minor = s.minor FROM (
  SELECT coop_id, farm_id, CAST(substr(date, 1, 4) AS INTEGER) * 12 + CAST(substr(date, 6, 2) AS INTEGER) - 1 AS of_month,
    SUM(sold_litres) AS sold, SUM((sold_litres * price_per_litre + 500) / 1000) AS minor
  FROM milk_records WHERE withdrawn_at IS NULL AND sold_litres > 0 AND price_per_litre IS NOT NULL
  GROUP BY 1, 2, 3
) s WHERE farm_months.coop_id = s.coop_id AND farm_months.farm_id = s.farm_id
  AND farm_months.month = s.of_month;
UPDATE farm_months SET eggs_sold = s.sold, eggs_sold_minor = s.minor FROM (
  SELECT coop_id, farm_id, CAST(substr(date, 1, 4) AS INTEGER) * 12 + CAST(substr(date, 6, 2) AS INTEGER) - 1 AS of_month,
    SUM(sold_eggs) AS sold, SUM(sold_eggs * price_per_egg) AS minor
  FROM egg_records WHERE withdrawn_at IS NULL AND sold_eggs > 0 AND price_per_egg IS NOT NULL
  GROUP BY 1, 2, 3
) s WHERE farm_months.coop_id = s.coop_id AND farm_months.farm_id = s.farm_id
  AND farm_months.month = s.of_month;
