ALTER TABLE trainings DROP COLUMN area_id;
