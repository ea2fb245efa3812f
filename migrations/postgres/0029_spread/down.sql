DROP INDEX calendar_links_secret;
ALTER TABLE calendar_links DROP CONSTRAINT calendar_links_pkey;
ALTER TABLE calendar_links ADD CONSTRAINT calendar_links_pkey PRIMARY KEY (secret_hash);
DROP INDEX invitations_code;
ALTER TABLE invitations DROP CONSTRAINT invitations_pkey;
ALTER TABLE invitations ADD CONSTRAINT invitations_pkey PRIMARY KEY (code_hash);
CREATE TABLE session_people (
  family_id UUID NOT NULL,
  coop_id BIGINT NOT NULL,
  person_id UUID NOT NULL,
  PRIMARY KEY (family_id, coop_id, person_id),
  FOREIGN KEY (coop_id, person_id) REFERENCES people (coop_id, id)
);
INSERT INTO session_people (family_id, coop_id, person_id)
SELECT family_id, other_coop_id, person_id FROM sign_in_people;
DROP TABLE sign_in_people;
ALTER TABLE sign_ins DROP CONSTRAINT sign_ins_pkey;
ALTER TABLE sign_ins ADD CONSTRAINT sign_ins_pkey PRIMARY KEY (family_id);
DROP INDEX sessions_token;
DROP INDEX sessions_family;
CREATE INDEX sessions_family ON sessions (family_id);
ALTER TABLE sessions DROP CONSTRAINT sessions_pkey;
ALTER TABLE sessions ADD CONSTRAINT sessions_pkey PRIMARY KEY (token_hash);
CREATE INDEX people_email ON people (email);
CREATE INDEX people_phone ON people (phone);
DROP TABLE logins;
CREATE UNIQUE INDEX cooperatives_id_key ON cooperatives (id);
DROP TABLE coop_directory;
