-- What a month came to, JSON. A page of twelve months reads it instead of twelve reports.
ALTER TABLE month_snapshots ADD COLUMN total TEXT NOT NULL DEFAULT '';
ALTER TABLE month_snapshots ALTER COLUMN total DROP DEFAULT;
-- What a farm was charged and paid for seed, all days together.
CREATE TABLE seed_accounts (
  coop_id BIGINT NOT NULL,
  farm_id UUID NOT NULL,
  credit_minor BIGINT NOT NULL,
  paid_at_once_minor BIGINT NOT NULL,
  unpriced BIGINT NOT NULL,
  issued_g BIGINT NOT NULL,
  paid_minor BIGINT NOT NULL,
  PRIMARY KEY (coop_id, farm_id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id)
);
INSERT INTO seed_accounts (coop_id, farm_id, credit_minor, paid_at_once_minor, unpriced, issued_g, paid_minor)
  SELECT coop_id, farm_id, SUM(credit), SUM(at_once), SUM(unpriced), SUM(grams), SUM(paid) FROM (
    SELECT coop_id, farm_id,
      CASE WHEN payment = 'credit' THEN COALESCE(price, 0) ELSE 0 END AS credit,
      CASE WHEN payment = 'credit' THEN 0 ELSE COALESCE(price, 0) END AS at_once,
      CASE WHEN price IS NULL THEN 1 ELSE 0 END AS unpriced,
      kg AS grams, 0 AS paid
    FROM seed_issues WHERE withdrawn_at IS NULL
    UNION ALL
    SELECT coop_id, farm_id, 0, 0, 0, 0, amount FROM seed_payments WHERE withdrawn_at IS NULL
  ) AS moved GROUP BY coop_id, farm_id;
