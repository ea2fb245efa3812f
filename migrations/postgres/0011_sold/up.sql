-- What was sold of milk and eggs, and for how much: the price that output is counted at.
ALTER TABLE farm_months ADD COLUMN milk_sold_ml BIGINT NOT NULL DEFAULT 0;
ALTER TABLE farm_months ADD COLUMN milk_sold_minor BIGINT NOT NULL DEFAULT 0;
ALTER TABLE farm_months ADD COLUMN eggs_sold BIGINT NOT NULL DEFAULT 0;
ALTER TABLE farm_months ADD COLUMN eggs_sold_minor BIGINT NOT NULL DEFAULT 0;
UPDATE farm_months SET milk_sold_ml = s.sold, milk_sold_minor = s.minor FROM (
  SELECT coop_id, farm_id, CAST(EXTRACT(YEAR FROM date) * 12 + EXTRACT(MONTH FROM date) - 1 AS BIGINT) AS of_month,
    CAST(SUM(sold_litres) AS BIGINT) AS sold, CAST(SUM((sold_litres * price_per_litre + 500) / 1000) AS BIGINT) AS minor
  FROM milk_records WHERE withdrawn_at IS NULL AND sold_litres > 0 AND price_per_litre IS NOT NULL
  GROUP BY 1, 2, 3
) s WHERE farm_months.coop_id = s.coop_id AND farm_months.farm_id = s.farm_id
  AND farm_months.month = s.of_month;
UPDATE farm_months SET eggs_sold = s.sold, eggs_sold_minor = s.minor FROM (
  SELECT coop_id, farm_id, CAST(EXTRACT(YEAR FROM date) * 12 + EXTRACT(MONTH FROM date) - 1 AS BIGINT) AS of_month,
    CAST(SUM(sold_eggs) AS BIGINT) AS sold, CAST(SUM(sold_eggs * price_per_egg) AS BIGINT) AS minor
  FROM egg_records WHERE withdrawn_at IS NULL AND sold_eggs > 0 AND price_per_egg IS NOT NULL
  GROUP BY 1, 2, 3
) s WHERE farm_months.coop_id = s.coop_id AND farm_months.farm_id = s.farm_id
  AND farm_months.month = s.of_month;
