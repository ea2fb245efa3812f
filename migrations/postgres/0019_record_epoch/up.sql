-- Which life of the records this is: 0 at first, another number after each restore of a backup; and
-- the instant whose records the backup held.
CREATE TABLE record_epoch (
  one BIGINT NOT NULL CHECK (one = 1),
  epoch BIGINT NOT NULL,
  restored_to TIMESTAMPTZ,
  PRIMARY KEY (one)
);
INSERT INTO record_epoch (one, epoch) VALUES (1, 0);
