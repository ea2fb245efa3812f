-- A training is for the members of an area.
ALTER TABLE trainings ADD COLUMN area_id UUID;
ALTER TABLE trainings ADD FOREIGN KEY (coop_id, area_id) REFERENCES areas (coop_id, id);
