-- The weekly reports: how lights were set before, reports with their files, who wants them, and what is asked for.

-- How a room's lights were set from when until when, so that weeks of different photoperiods can be told apart.
CREATE TABLE room_lights (
    room_id uuid NOT NULL REFERENCES room,
    lights_on time NOT NULL,
    lights_off time NOT NULL,
    during tstzrange NOT NULL CHECK (NOT isempty(during)),
    CONSTRAINT room_lights_once EXCLUDE USING gist (room_id WITH =, during WITH &&)
);

-- What was set before this version is not known: taken as set as it is now.
INSERT INTO room_lights SELECT id, lights_on, lights_off, tstzrange(NULL, NULL) FROM room;

CREATE FUNCTION note_room_lights() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF TG_OP = 'INSERT' THEN
        INSERT INTO room_lights VALUES (NEW.id, NEW.lights_on, NEW.lights_off, tstzrange(NULL, NULL));
    ELSIF (NEW.lights_on, NEW.lights_off) IS DISTINCT FROM (OLD.lights_on, OLD.lights_off) THEN
        -- Set twice in one transaction, the first time did not last.
        DELETE FROM room_lights WHERE room_id = NEW.id AND lower(during) = now();
        UPDATE room_lights SET during = tstzrange(lower(during), now()) WHERE room_id = NEW.id AND upper_inf(during);
        INSERT INTO room_lights VALUES (NEW.id, NEW.lights_on, NEW.lights_off, tstzrange(now(), NULL));
    END IF;
    RETURN NULL;
END $$;
CREATE TRIGGER note_lights AFTER INSERT OR UPDATE ON room FOR EACH ROW EXECUTE FUNCTION note_room_lights();

CREATE TABLE report (
    id uuid PRIMARY KEY DEFAULT gen_random_uuid(),
    facility_id uuid NOT NULL REFERENCES facility,
    week text NOT NULL CHECK (week ~ '^\d{4}-W\d{2}$'),
    edition integer NOT NULL CHECK (edition >= 1),   -- 2, 3 …: made again
    starts_at timestamptz NOT NULL,
    ends_at timestamptz NOT NULL,
    made_at timestamptz NOT NULL,
    reached_at timestamptz,                          -- the newest reading in it; null: there was none
    figures jsonb NOT NULL,                          -- its key figures, which a later edition is compared with
    UNIQUE (facility_id, week, edition)
);

-- Files of the newest edition of a week; of earlier ones the key figures are kept.
CREATE TABLE report_file (
    report_id uuid NOT NULL REFERENCES report,
    name text NOT NULL,
    media_type text NOT NULL,
    body bytea NOT NULL,
    PRIMARY KEY (report_id, name)
);
ALTER TABLE report_file ALTER COLUMN body SET STORAGE EXTERNAL;  -- what is in it is compressed already

CREATE TABLE report_order (
    id uuid PRIMARY KEY DEFAULT gen_random_uuid(),
    facility_id uuid NOT NULL REFERENCES facility,
    week text NOT NULL CHECK (week ~ '^\d{4}-W\d{2}$'),
    scheduled boolean NOT NULL,                      -- by the clock, and sent to subscribers
    person_id uuid REFERENCES person,                -- who asked for it
    ordered_at timestamptz NOT NULL,
    claimed_until timestamptz,                       -- a copy is at it
    tries integer NOT NULL DEFAULT 0,
    doing text NOT NULL DEFAULT '',                  -- progress in words, and from 0 to 1
    share real NOT NULL DEFAULT 0 CHECK (share BETWEEN 0 AND 1),
    done_at timestamptz,
    report_id uuid REFERENCES report,
    failure text,
    CHECK (done_at IS NULL OR num_nonnulls(report_id, failure) = 1)
);
CREATE UNIQUE INDEX report_order_open ON report_order (facility_id, week) WHERE done_at IS NULL;
CREATE UNIQUE INDEX report_order_scheduled ON report_order (facility_id, week) WHERE scheduled;

CREATE TABLE report_subscription (
    facility_id uuid NOT NULL REFERENCES facility,
    person_id uuid NOT NULL REFERENCES person,
    since timestamptz NOT NULL,
    PRIMARY KEY (facility_id, person_id)
);
