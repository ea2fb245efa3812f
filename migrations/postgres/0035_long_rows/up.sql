-- How often the texts of a closed month were written anew, when a member was erased from them. What
-- was read of them earlier holds no longer. (SQLite also keeps long rows in another way.)
ALTER TABLE month_closes ADD COLUMN rewritten BIGINT NOT NULL DEFAULT 0;
-- What farms owe for seed is added up from these columns alone.
CREATE INDEX seed_issues_farm_id_date_payment_price_kg_withdrawn_at ON seed_issues
  (coop_id, farm_id, date, payment, price, kg, withdrawn_at, id);
CREATE INDEX seed_payments_farm_id_date_amount_withdrawn_at ON seed_payments
  (coop_id, farm_id, date, amount, withdrawn_at, id);
-- Follow-ups that nobody has ended.
CREATE INDEX follow_ups_outcome_due_on ON follow_ups (coop_id, outcome, due_on, id);
