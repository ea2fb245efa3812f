-- So that tables can be spread over several machines by co-operative: every key begins with the
-- column by which its table is spread. Logins are spread by login; the directory stands everywhere.
CREATE TABLE coop_directory (
  coop_id BIGINT NOT NULL,
  id UUID NOT NULL,
  PRIMARY KEY (coop_id)
);
CREATE UNIQUE INDEX coop_directory_id ON coop_directory (id);
INSERT INTO coop_directory (coop_id, id) SELECT coop_id, id FROM cooperatives;
DROP INDEX cooperatives_id_key;
CREATE TABLE logins (
  login TEXT COLLATE "C" NOT NULL,
  coop_id BIGINT NOT NULL,
  person_id UUID NOT NULL,
  PRIMARY KEY (login, coop_id, person_id)
);
INSERT INTO logins (login, coop_id, person_id)
SELECT email, coop_id, id FROM people WHERE email IS NOT NULL AND withdrawn_at IS NULL
UNION SELECT phone, coop_id, id FROM people WHERE phone IS NOT NULL AND withdrawn_at IS NULL;
DROP INDEX people_email;
DROP INDEX people_phone;
ALTER TABLE sessions DROP CONSTRAINT sessions_pkey;
ALTER TABLE sessions ADD CONSTRAINT sessions_pkey PRIMARY KEY (coop_id, token_hash);
DROP INDEX sessions_family;
CREATE INDEX sessions_family ON sessions (coop_id, family_id);
-- Secrets of an older program do not name their co-operative.
CREATE INDEX sessions_token ON sessions (token_hash);
ALTER TABLE sign_ins DROP CONSTRAINT sign_ins_pkey;
ALTER TABLE sign_ins ADD CONSTRAINT sign_ins_pkey PRIMARY KEY (coop_id, family_id);
-- Beside its sign-in, in the co-operative of that.
CREATE TABLE sign_in_people (
  coop_id BIGINT NOT NULL,
  family_id UUID NOT NULL,
  other_coop_id BIGINT NOT NULL,
  person_id UUID NOT NULL,
  PRIMARY KEY (coop_id, family_id, other_coop_id, person_id)
);
INSERT INTO sign_in_people (coop_id, family_id, other_coop_id, person_id)
SELECT i.coop_id, i.family_id, p.coop_id, p.person_id FROM session_people p
JOIN sign_ins i ON i.family_id = p.family_id;
DROP TABLE session_people;
ALTER TABLE invitations DROP CONSTRAINT invitations_pkey;
ALTER TABLE invitations ADD CONSTRAINT invitations_pkey PRIMARY KEY (coop_id, code_hash);
CREATE INDEX invitations_code ON invitations (code_hash);
ALTER TABLE calendar_links DROP CONSTRAINT calendar_links_pkey;
ALTER TABLE calendar_links ADD CONSTRAINT calendar_links_pkey PRIMARY KEY (coop_id, secret_hash);
CREATE INDEX calendar_links_secret ON calendar_links (secret_hash);
