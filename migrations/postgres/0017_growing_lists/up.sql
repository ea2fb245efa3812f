-- Lists of words that grow with the program are held by the rules of records. A CHECK of them is no
-- reason to make a table anew.
ALTER TABLE cooperatives DROP CONSTRAINT cooperatives_language_check;
ALTER TABLE members DROP CONSTRAINT members_language_check;
ALTER TABLE people DROP CONSTRAINT people_language_check;
ALTER TABLE growing_guide_values DROP CONSTRAINT growing_guide_values_name_check;
ALTER TABLE review_acceptances DROP CONSTRAINT review_acceptances_rule_check;
