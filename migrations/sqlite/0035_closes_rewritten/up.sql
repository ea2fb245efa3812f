-- How often the texts of a closed month were written anew, when a member was erased from them: what
-- was read of them earlier holds no longer.
ALTER TABLE month_closes ADD COLUMN rewritten INTEGER NOT NULL DEFAULT 0;
