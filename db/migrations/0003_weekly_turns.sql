-- Weekly turns, who stands in on holidays, how long each step has to answer, quiet hours, and the rota as a calendar.
--
-- `rota_turn` stays: a turn by date stands before the weekly turns, as for a swapped day.

-- People who follow one another at one step, each for `turn_days`, again and again.
CREATE TABLE rota_pattern (
    id uuid PRIMARY KEY DEFAULT gen_random_uuid(),
    facility_id uuid NOT NULL REFERENCES facility,
    step integer NOT NULL CHECK (step BETWEEN 1 AND 9),
    starts_on date NOT NULL,                     -- the first hand-over's day
    hand_over time NOT NULL,                     -- by the facility's clock
    turn_days integer NOT NULL DEFAULT 7 CHECK (turn_days BETWEEN 1 AND 56),
    ends_on date CHECK (ends_on > starts_on),    -- the last hand-over's day; null: until somebody ends it
    on_holidays boolean NOT NULL DEFAULT false,  -- holds on public holidays only, before the others of its step
    created_at timestamptz NOT NULL DEFAULT now(),
    CONSTRAINT rota_pattern_one_at_a_time EXCLUDE USING gist (
        facility_id WITH =, step WITH =, (on_holidays::int) WITH =, daterange(starts_on, ends_on) WITH &&)
);

CREATE TABLE rota_pattern_person (
    pattern_id uuid NOT NULL REFERENCES rota_pattern ON DELETE CASCADE,
    position integer NOT NULL CHECK (position >= 1),
    person_id uuid NOT NULL REFERENCES person,   -- the same person may have several turns of a round
    PRIMARY KEY (pattern_id, position)
);

-- How long those of a step have to say "mine" before the next are called; steps that are not here have the usual time.
CREATE TABLE rota_step (
    facility_id uuid NOT NULL REFERENCES facility,
    step integer NOT NULL CHECK (step BETWEEN 1 AND 9),
    answer_minutes integer NOT NULL CHECK (answer_minutes BETWEEN 1 AND 1440),
    PRIMARY KEY (facility_id, step)
);

-- Whose public holidays a facility keeps.
CREATE TABLE rota_holidays (
    facility_id uuid PRIMARY KEY REFERENCES facility,
    country text NOT NULL,                       -- ISO 3166-1, two letters
    subdivision text                             -- ISO 3166-2, without the country
);

-- When a person is not called for what is of low priority, by the clock of the facility that calls.
CREATE TABLE quiet_hours (
    person_id uuid PRIMARY KEY REFERENCES person,
    starts time NOT NULL,
    ends time NOT NULL,
    CHECK (starts <> ends)
);

-- Addresses at which a rota can be read as a calendar by whoever knows them.
CREATE TABLE rota_feed (
    id uuid PRIMARY KEY DEFAULT gen_random_uuid(),
    token_hash bytea NOT NULL UNIQUE,
    facility_id uuid NOT NULL REFERENCES facility,
    person_id uuid REFERENCES person,            -- only this person's turns; null: everybody's
    made_by uuid NOT NULL REFERENCES person,
    created_at timestamptz NOT NULL,
    revoked_at timestamptz
);
CREATE INDEX rota_feed_facility ON rota_feed (facility_id) WHERE revoked_at IS NULL;

-- Measures count the calls of a facility's week.
CREATE INDEX notice_facility ON notice (facility_id, created_at);
