DROP TABLE batch_trays;
