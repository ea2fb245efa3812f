DROP TABLE feed_floors;
