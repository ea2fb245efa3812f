DROP TABLE record_epoch;
