-- Calls as decided, gathered where they come in a flood; parts out of service; how far an alarm has been called.

-- A call is one person's, for one entry of an alarm's journal; it leaves with a notice of its own or in a summary.
CREATE TABLE alarm_call (
    alarm_id uuid NOT NULL,
    version integer NOT NULL,                    -- the journal entry that called
    person_id uuid NOT NULL REFERENCES person,
    facility_id uuid NOT NULL REFERENCES facility,
    rung integer NOT NULL CHECK (rung >= 1),     -- 1 who is called first, 2 who is called when nobody answers, …
    priority text NOT NULL CHECK (priority IN ('high', 'medium', 'low')),
    at timestamptz NOT NULL,                     -- when it was decided
    state text NOT NULL CHECK (state IN ('waiting', 'single', 'summary', 'dropped')),  -- dropped: answered while it waited
    left_at timestamptz,                         -- when its notice was queued
    notice text,                                 -- key of that notice, without the contact
    PRIMARY KEY (alarm_id, version, person_id),
    FOREIGN KEY (alarm_id, version) REFERENCES alarm_journal (alarm_id, version) DEFERRABLE INITIALLY DEFERRED,
    CHECK ((state IN ('single', 'summary')) = (left_at IS NOT NULL)),
    CHECK ((left_at IS NULL) = (notice IS NULL))
);
CREATE INDEX alarm_call_lately ON alarm_call (person_id, at);
CREATE INDEX alarm_call_waiting ON alarm_call (facility_id) WHERE state = 'waiting';
CREATE INDEX alarm_call_notice ON alarm_call (notice) WHERE state = 'summary';

-- Whether a notice is a summary, and none of the alarms it tells of wants an answer any more.
CREATE FUNCTION is_answered(notice_key text) RETURNS boolean LANGUAGE sql STABLE AS $$
    SELECT coalesce(bool_and(a.state NOT IN ('unacknowledged', 'returned-unacknowledged')), false)
    FROM alarm_call c JOIN alarm a ON a.id = c.alarm_id
    WHERE c.state = 'summary' AND c.notice = left(notice_key, -37)  -- without the contact
$$;

-- A part of the place out of service, always with an end.
CREATE TABLE out_of_service (
    id uuid PRIMARY KEY DEFAULT gen_random_uuid(),
    facility_id uuid NOT NULL REFERENCES facility,
    room_id uuid REFERENCES room,                -- null for a gateway, or a device that is attached to nothing
    type text NOT NULL CHECK (type IN ('room', 'reservoir', 'line', 'container', 'gateway', 'device')),
    part_id uuid NOT NULL,
    name text NOT NULL,                          -- as people call it; of a device its URN
    since timestamptz NOT NULL,
    until timestamptz NOT NULL CHECK (until > since),
    note text NOT NULL DEFAULT '',
    person_id uuid REFERENCES person,
    ended_at timestamptz,                        -- ended by somebody before its end
    ended_by uuid REFERENCES person
);
CREATE INDEX out_of_service_facility ON out_of_service (facility_id, until);

ALTER TABLE alarm
    ADD COLUMN harm_at timestamptz,              -- when harm was expected when that was last told
    ADD COLUMN rung integer NOT NULL DEFAULT 0,  -- rungs called since it last asked; 0 while its call waits
    ADD COLUMN service_id uuid REFERENCES out_of_service;
UPDATE alarm SET rung = 1 WHERE called_at IS NOT NULL;

ALTER TABLE alarm_journal DROP CONSTRAINT alarm_journal_event_check;
ALTER TABLE alarm_journal ADD CONSTRAINT alarm_journal_event_check CHECK (event IN ('raised', 'cleared', 'returned',
    're-alarmed', 'suppressed', 'released', 'shelving-over', 'service-over', 'retired', 'called', 'escalated',
    'acknowledged', 'shelved', 'unshelved', 'taken-out-of-service', 'returned-to-service'));
