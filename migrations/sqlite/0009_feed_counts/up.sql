-- Feed left in a farm's store; which animals a purchase is for; findings about purchases that can be
-- accepted.

CREATE TABLE feed_counts (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  farm_id BLOB NOT NULL,
  feed_id BLOB NOT NULL,
  date TEXT NOT NULL,
  kg INTEGER NOT NULL CHECK (kg BETWEEN 0 AND 1000000000),
  animal_group_id BLOB,
  note TEXT,
  version INTEGER NOT NULL,
  created_at INTEGER NOT NULL,
  created_by BLOB NOT NULL,
  changed_at INTEGER NOT NULL,
  changed_by BLOB NOT NULL,
  withdrawn_at INTEGER,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id, feed_id) REFERENCES feeds (coop_id, id),
  FOREIGN KEY (coop_id, animal_group_id) REFERENCES animal_groups (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX feed_counts_order ON feed_counts (coop_id, date, id);
CREATE INDEX feed_counts_farm_order ON feed_counts (coop_id, farm_id, date, id);
CREATE INDEX feed_counts_farm_id_feed_id_date ON feed_counts (coop_id, farm_id, feed_id, date, id);
INSERT INTO sqlite_stat1 VALUES ('feed_counts', 'feed_counts', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('feed_counts', 'feed_counts_order', '1000000 1000000 1000 1');
INSERT INTO sqlite_stat1 VALUES ('feed_counts', 'feed_counts_farm_order', '1000000 1000000 500 3 1');
INSERT INTO sqlite_stat1 VALUES ('feed_counts', 'feed_counts_farm_id_feed_id_date', '1000000 1000000 500 100 1 1');

-- SQLite adds a reference of two columns, or changes a CHECK, by making the table anew.
ALTER TABLE feed_purchases RENAME TO old_feed_purchases;
DROP INDEX feed_purchases_order;
DROP INDEX feed_purchases_farm_order;
CREATE TABLE feed_purchases (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  farm_id BLOB NOT NULL,
  feed_id BLOB NOT NULL,
  date TEXT NOT NULL,
  kg INTEGER NOT NULL CHECK (kg BETWEEN 0 AND 1000000000),
  cost INTEGER NOT NULL CHECK (cost >= 0),
  animal_group_id BLOB,
  note TEXT,
  version INTEGER NOT NULL,
  created_at INTEGER NOT NULL,
  created_by BLOB NOT NULL,
  changed_at INTEGER NOT NULL,
  changed_by BLOB NOT NULL,
  withdrawn_at INTEGER,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id, feed_id) REFERENCES feeds (coop_id, id),
  FOREIGN KEY (coop_id, animal_group_id) REFERENCES animal_groups (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
INSERT INTO feed_purchases (coop_id, id, farm_id, feed_id, date, kg, cost, note, version, created_at, created_by, changed_at, changed_by, withdrawn_at) SELECT coop_id, id, farm_id, feed_id, date, kg, cost, note, version, created_at, created_by, changed_at, changed_by, withdrawn_at FROM old_feed_purchases;
DROP TABLE old_feed_purchases;
CREATE INDEX feed_purchases_order ON feed_purchases (coop_id, date, id);
CREATE INDEX feed_purchases_farm_order ON feed_purchases (coop_id, farm_id, date, id);
CREATE INDEX feed_purchases_farm_id_feed_id_date ON feed_purchases (coop_id, farm_id, feed_id, date, id);
DELETE FROM sqlite_stat1 WHERE tbl IN ('feed_purchases', 'old_feed_purchases');
INSERT INTO sqlite_stat1 VALUES ('feed_purchases', 'feed_purchases', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('feed_purchases', 'feed_purchases_order', '1000000 1000000 1000 1');
INSERT INTO sqlite_stat1 VALUES ('feed_purchases', 'feed_purchases_farm_order', '1000000 1000000 500 3 1');
INSERT INTO sqlite_stat1 VALUES ('feed_purchases', 'feed_purchases_farm_id_feed_id_date', '1000000 1000000 500 100 1 1');

ALTER TABLE review_acceptances RENAME TO old_review_acceptances;
DROP INDEX review_acceptances_order;
DROP INDEX review_acceptances_farm_order;
CREATE TABLE review_acceptances (
  coop_id INTEGER NOT NULL,
  id BLOB NOT NULL,
  farm_id BLOB,
  rule TEXT NOT NULL CHECK (rule IN ('store_stock_below_zero', 'farm_stock_below_zero', 'more_trays_out_than_spread', 'more_fed_than_harvested', 'yield_impossible', 'yield_unlikely', 'events_out_of_order', 'fed_over_age', 'fed_with_mould', 'held_lot_soaked', 'shed_over_full', 'silent_farm', 'repeated_values', 'rounded_values', 'output_jump', 'head_jump', 'feed_price', 'feed_kg', 'feed_gap', 'feed_stock', 'ration_not_bought')),
  finding TEXT NOT NULL,
  evidence TEXT NOT NULL,
  accepted_on TEXT NOT NULL,
  reason TEXT NOT NULL,
  version INTEGER NOT NULL,
  created_at INTEGER NOT NULL,
  created_by BLOB NOT NULL,
  changed_at INTEGER NOT NULL,
  changed_by BLOB NOT NULL,
  withdrawn_at INTEGER,
  PRIMARY KEY (coop_id, id),
  FOREIGN KEY (coop_id, farm_id) REFERENCES farms (coop_id, id),
  FOREIGN KEY (coop_id) REFERENCES coop_counters (coop_id)
) STRICT, WITHOUT ROWID;
INSERT INTO review_acceptances (coop_id, id, farm_id, rule, finding, evidence, accepted_on, reason, version, created_at, created_by, changed_at, changed_by, withdrawn_at) SELECT coop_id, id, farm_id, rule, finding, evidence, accepted_on, reason, version, created_at, created_by, changed_at, changed_by, withdrawn_at FROM old_review_acceptances;
DROP TABLE old_review_acceptances;
CREATE INDEX review_acceptances_order ON review_acceptances (coop_id, accepted_on, id);
CREATE INDEX review_acceptances_farm_order ON review_acceptances (coop_id, farm_id, accepted_on, id);
DELETE FROM sqlite_stat1 WHERE tbl IN ('review_acceptances', 'old_review_acceptances');
INSERT INTO sqlite_stat1 VALUES ('review_acceptances', 'review_acceptances', '1000000 1000000 1');
INSERT INTO sqlite_stat1 VALUES ('review_acceptances', 'review_acceptances_order', '1000000 1000000 1000 1');
INSERT INTO sqlite_stat1 VALUES ('review_acceptances', 'review_acceptances_farm_order', '1000000 1000000 500 3 1');
