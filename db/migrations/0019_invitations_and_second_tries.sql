-- Somebody with an account of another facility is given a role by an invitation that they accept themselves, so that
-- whoever invites learns nothing about accounts. What was refused can be tried again by the rules of today.

CREATE TABLE invitation (
    id uuid PRIMARY KEY DEFAULT gen_random_uuid(),
    token_hash bytea NOT NULL UNIQUE,
    facility_id uuid NOT NULL REFERENCES facility,
    role text NOT NULL CHECK (role IN ('viewer', 'grower', 'manager', 'administrator')),
    label text NOT NULL CHECK (length(label) BETWEEN 1 AND 100),  -- for whom, in the words of whoever made it
    made_by uuid NOT NULL REFERENCES person,
    created_at timestamptz NOT NULL,
    expires_at timestamptz NOT NULL,
    ended_at timestamptz,                        -- accepted, or taken back
    accepted_by uuid REFERENCES person
);
CREATE INDEX invitation_open ON invitation (facility_id) WHERE ended_at IS NULL;
CREATE TRIGGER audited AFTER INSERT OR UPDATE OR DELETE ON invitation FOR EACH ROW
    WHEN (coalesce(current_setting('wickwatch.audit', true), '') <> '')
    EXECUTE FUNCTION audit_row('token_hash', 'created_at');

ALTER TABLE quarantine
    ADD COLUMN tried_at timestamptz,             -- when somebody last had it tried again
    ADD COLUMN taken_at timestamptz,             -- when that went well; null: refused to this day
    ADD COLUMN stored integer NOT NULL DEFAULT 0,   -- readings that it brought then
    ADD COLUMN known integer NOT NULL DEFAULT 0;    -- readings of it that were stored before

-- Rules of a whole facility are tried on all of it.
ALTER TABLE rule_trial ALTER COLUMN room_id DROP NOT NULL;   -- null: the whole facility is looked at
