DROP TABLE passkey_challenges;
DROP TABLE passkeys;
