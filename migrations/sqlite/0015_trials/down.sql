DROP TABLE on_off_plans;
DROP TABLE start_places;
DROP TABLE start_plans;
