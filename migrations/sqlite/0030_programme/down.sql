DROP TABLE programme_grants;
DROP TABLE programme_cells;
