-- What a change of rules would have done to a room's last weeks, worked out before it is saved.

CREATE TABLE rule_trial (
    id uuid PRIMARY KEY DEFAULT gen_random_uuid(),
    facility_id uuid NOT NULL REFERENCES facility,
    room_id uuid NOT NULL REFERENCES room,           -- the room that is looked at
    kind text NOT NULL CHECK (kind IN ('facility', 'room', 'reservoir', 'container')),
    subject_id uuid NOT NULL,                        -- where the rules would be given
    rules jsonb NOT NULL,                            -- all that would be given there
    starts_at timestamptz NOT NULL,
    ends_at timestamptz NOT NULL CHECK (ends_at > starts_at),
    person_id uuid REFERENCES person,
    ordered_at timestamptz NOT NULL,
    told_at timestamptz NOT NULL,                    -- when whoever works it out last said that it lives
    share real NOT NULL DEFAULT 0 CHECK (share BETWEEN 0 AND 1),
    done_at timestamptz,
    result jsonb,                                    -- alarms before and after, as the contract shows them
    failure text,                                    -- why there is none
    CHECK (done_at IS NULL OR num_nonnulls(result, failure) = 1)
);
CREATE UNIQUE INDEX rule_trial_open ON rule_trial (facility_id) WHERE done_at IS NULL;
CREATE INDEX rule_trial_newest ON rule_trial (subject_id, ordered_at DESC);
