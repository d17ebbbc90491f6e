-- Sessions that their person can tell apart and end, tokens that may do less than their person, and the address by which
-- a provider of sign-ins knows a person.

ALTER TABLE session
    ADD COLUMN id uuid NOT NULL DEFAULT gen_random_uuid(),
    ADD COLUMN address text NOT NULL DEFAULT '',       -- where it was opened from
    ADD COLUMN device text NOT NULL DEFAULT 'computer' CHECK (device IN ('phone', 'computer')),
    ADD COLUMN used_at timestamptz NOT NULL DEFAULT now();  -- kept to a few minutes
CREATE UNIQUE INDEX session_id ON session (id);

ALTER TABLE api_token
    -- Tokens of the release before may do whatever their person may.
    ADD COLUMN scope text NOT NULL DEFAULT 'admin' CHECK (scope IN ('read', 'write', 'admin')),
    ADD COLUMN used_at timestamptz;                    -- kept to a few minutes
CREATE INDEX api_token_person ON api_token (person_id) WHERE revoked_at IS NULL;

ALTER TABLE person ADD COLUMN sign_in_address text CHECK (length(sign_in_address) BETWEEN 3 AND 254);
CREATE UNIQUE INDEX person_sign_in_address ON person (lower(sign_in_address));

-- A change of what somebody may do ends their sessions, whoever makes it and by whatever way: no session from before it
-- is carried over (OWASP Session Management Cheat Sheet, "Renew the Session ID After Any Privilege Level Change").
CREATE FUNCTION end_sessions() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    DELETE FROM session WHERE person_id IN (NEW.person_id, OLD.person_id);
    RETURN NULL;
END $$;
CREATE TRIGGER sessions_end AFTER INSERT OR UPDATE OR DELETE ON membership
    FOR EACH ROW EXECUTE FUNCTION end_sessions();
