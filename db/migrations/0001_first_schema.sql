-- The first schema: place, readings, judgement, people, notices, and the watching of the watch itself.
--
-- Names are the trade's. Times are timestamptz. What can hold "at most one" holds it by an index or an exclusion
-- constraint. Append-only tables refuse UPDATE and DELETE by a trigger. The only place that knows TimescaleDB, besides
-- the store's module of that name, is the block at the end.

CREATE EXTENSION IF NOT EXISTS btree_gist;

CREATE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION '% is append-only; write a new row instead', TG_TABLE_NAME USING ERRCODE = 'restrict_violation';
END $$;

-- The place ------------------------------------------------------------------------------------------------------

CREATE DOMAIN slug AS text CHECK (VALUE ~ '^[a-z0-9][a-z0-9-]{0,62}$');

CREATE TABLE facility (
    id uuid PRIMARY KEY DEFAULT gen_random_uuid(),
    slug slug NOT NULL,
    name text NOT NULL,
    zone text NOT NULL,
    rules jsonb NOT NULL DEFAULT '{}',
    created_at timestamptz NOT NULL DEFAULT now(),
    retired_at timestamptz
);
CREATE UNIQUE INDEX facility_slug ON facility (slug) WHERE retired_at IS NULL;

CREATE TABLE gateway (
    id uuid PRIMARY KEY DEFAULT gen_random_uuid(),
    facility_id uuid NOT NULL REFERENCES facility,
    slug slug NOT NULL,
    declared boolean NOT NULL DEFAULT false,     -- in the fleet file or set up on a page; otherwise only heard
    status text CHECK (status IN ('online', 'offline')),
    status_at timestamptz,
    heard_at timestamptz,                        -- arrival of its last pack
    created_at timestamptz NOT NULL DEFAULT now(),
    retired_at timestamptz
);
CREATE UNIQUE INDEX gateway_slug ON gateway (facility_id, slug) WHERE retired_at IS NULL;

CREATE TABLE room (
    id uuid PRIMARY KEY DEFAULT gen_random_uuid(),
    facility_id uuid NOT NULL REFERENCES facility,
    slug slug NOT NULL,
    name text NOT NULL,
    lights_on time NOT NULL,
    lights_off time NOT NULL,
    rules jsonb NOT NULL DEFAULT '{}',
    created_at timestamptz NOT NULL DEFAULT now(),
    retired_at timestamptz
);
CREATE UNIQUE INDEX room_slug ON room (facility_id, slug) WHERE retired_at IS NULL;

CREATE TABLE reservoir (
    id uuid PRIMARY KEY DEFAULT gen_random_uuid(),
    room_id uuid NOT NULL REFERENCES room,
    slug slug NOT NULL,
    name text NOT NULL,
    shape text NOT NULL CHECK (shape IN ('cylinder', 'box', 'frustum', 'lying-cylinder', 'table')),
    keys jsonb NOT NULL,                         -- the shape's measures, as in the fleet file
    sensor_zero_mm double precision NOT NULL DEFAULT 0,
    outlet_mm double precision NOT NULL,
    head_mm double precision NOT NULL DEFAULT 0,
    rules jsonb NOT NULL DEFAULT '{}',
    created_at timestamptz NOT NULL DEFAULT now(),
    retired_at timestamptz
);
CREATE UNIQUE INDEX reservoir_slug ON reservoir (room_id, slug) WHERE retired_at IS NULL;

CREATE TABLE supply_line (
    id uuid PRIMARY KEY DEFAULT gen_random_uuid(),
    room_id uuid NOT NULL REFERENCES room,
    reservoir_id uuid REFERENCES reservoir,
    slug slug NOT NULL,
    name text NOT NULL,
    kind text NOT NULL CHECK (kind IN ('loop', 'dead-end')),
    created_at timestamptz NOT NULL DEFAULT now(),
    retired_at timestamptz
);
CREATE UNIQUE INDEX supply_line_slug ON supply_line (room_id, slug) WHERE retired_at IS NULL;

CREATE TABLE container (
    id uuid PRIMARY KEY DEFAULT gen_random_uuid(),
    room_id uuid NOT NULL REFERENCES room,
    line_id uuid REFERENCES supply_line,
    slug slug NOT NULL,
    name text NOT NULL,
    volume_l double precision CHECK (volume_l > 0),
    medium text,
    stands_for integer NOT NULL DEFAULT 1 CHECK (stands_for >= 1),
    rules jsonb NOT NULL DEFAULT '{}',
    created_at timestamptz NOT NULL DEFAULT now(),
    retired_at timestamptz
);
CREATE UNIQUE INDEX container_slug ON container (room_id, slug) WHERE retired_at IS NULL;

-- Devices, channels, and what they measure -----------------------------------------------------------------------

CREATE TABLE device (
    id uuid PRIMARY KEY DEFAULT gen_random_uuid(),
    facility_id uuid NOT NULL REFERENCES facility,
    urn text NOT NULL CHECK (length(urn) BETWEEN 1 AND 255),
    gateway_id uuid REFERENCES gateway,          -- the gateway it was last heard through
    created_at timestamptz NOT NULL DEFAULT now(),
    UNIQUE (facility_id, urn)
);

CREATE TABLE channel (
    id integer PRIMARY KEY GENERATED ALWAYS AS IDENTITY,
    facility_id uuid NOT NULL REFERENCES facility,
    device_id uuid NOT NULL REFERENCES device,
    name text NOT NULL CHECK (length(name) BETWEEN 3 AND 300),
    quantity text NOT NULL CHECK (quantity IN ('tension', 'level', 'temperature', 'humidity', 'flow', 'battery')),
    unit text NOT NULL,                          -- the unit its readings are stored in
    full_scale_mm double precision CHECK (full_scale_mm > 0),
    interval_s double precision,                 -- usual time between readings, as seen
    conflicts bigint NOT NULL DEFAULT 0,         -- same time, another value: the first was kept
    first_heard_at timestamptz NOT NULL DEFAULT now(),
    UNIQUE (facility_id, name)
);

CREATE TABLE assignment (
    id uuid PRIMARY KEY DEFAULT gen_random_uuid(),
    channel_id integer NOT NULL REFERENCES channel,
    quantity text NOT NULL,
    container_id uuid REFERENCES container,
    reservoir_id uuid REFERENCES reservoir,
    line_id uuid REFERENCES supply_line,
    room_id uuid REFERENCES room,
    twin boolean NOT NULL DEFAULT false,         -- a second probe beside the one that counts
    during tstzrange NOT NULL CHECK (NOT isempty(during) AND lower_inc(during) AND NOT upper_inc(during)),
    created_at timestamptz NOT NULL DEFAULT now(),
    CHECK (num_nonnulls(container_id, reservoir_id, line_id, room_id) = 1),
    CONSTRAINT assignment_channel_once EXCLUDE USING gist (channel_id WITH =, during WITH &&),
    CONSTRAINT assignment_subject_once EXCLUDE USING gist (
        (coalesce(container_id, reservoir_id, line_id, room_id)) WITH =, quantity WITH =, (twin::int) WITH =, during WITH &&)
);

-- Readings -------------------------------------------------------------------------------------------------------

CREATE TABLE reading (
    at timestamptz NOT NULL,
    channel_id integer NOT NULL,                 -- no foreign key: it would be checked for every row of a stream
    value double precision NOT NULL,
    PRIMARY KEY (channel_id, at)
);

-- Buckets whose readings changed since they were rolled up; written in the transaction that wrote the readings.
CREATE TABLE rollup_due (
    facility_id uuid NOT NULL REFERENCES facility,
    at timestamptz NOT NULL,                     -- beginning of a 5-minute bucket
    seq bigint GENERATED ALWAYS AS IDENTITY,     -- no unique key: writers must never wait for one another here
    PRIMARY KEY (facility_id, at, seq)
);

CREATE TABLE rollup_5m (
    channel_id integer NOT NULL,
    at timestamptz NOT NULL,
    n integer NOT NULL,
    low real NOT NULL,
    high real NOT NULL,
    mean real NOT NULL,
    last double precision NOT NULL,
    last_at timestamptz NOT NULL,
    PRIMARY KEY (channel_id, at)
);

CREATE TABLE rollup_1h (
    channel_id integer NOT NULL,
    at timestamptz NOT NULL,
    n integer NOT NULL,
    low real NOT NULL,
    high real NOT NULL,
    mean real NOT NULL,
    PRIMARY KEY (channel_id, at)
);

CREATE TABLE quarantine (
    id bigint PRIMARY KEY GENERATED ALWAYS AS IDENTITY,
    at timestamptz NOT NULL DEFAULT now(),
    facility_id uuid REFERENCES facility,        -- null where the topic names none that is known
    topic text NOT NULL,
    payload bytea NOT NULL,                      -- the pack as it came; cut at 64 KiB, `payload_bytes` tells
    payload_bytes integer NOT NULL,
    reason text NOT NULL,
    detail text NOT NULL,                        -- which record, which value, what is accepted
    records integer NOT NULL DEFAULT 1           -- records of the pack refused for this reason
);
CREATE INDEX quarantine_newest ON quarantine (facility_id, at DESC);

CREATE TABLE quarantine_count (
    facility_id uuid,
    reason text NOT NULL,
    day date NOT NULL,
    records bigint NOT NULL,
    UNIQUE NULLS NOT DISTINCT (facility_id, reason, day)
);

-- People ---------------------------------------------------------------------------------------------------------

CREATE TABLE person (
    id uuid PRIMARY KEY DEFAULT gen_random_uuid(),
    name text NOT NULL CHECK (length(name) BETWEEN 1 AND 100),
    password_hash text,
    disabled_at timestamptz,
    created_at timestamptz NOT NULL DEFAULT now()
);
CREATE UNIQUE INDEX person_name ON person (lower(name));

CREATE TABLE membership (
    person_id uuid NOT NULL REFERENCES person,
    facility_id uuid REFERENCES facility,        -- null: every facility
    role text NOT NULL CHECK (role IN ('viewer', 'grower', 'manager', 'administrator')),
    UNIQUE NULLS NOT DISTINCT (person_id, facility_id)
);

CREATE TABLE session (
    token_hash bytea PRIMARY KEY,
    person_id uuid NOT NULL REFERENCES person,
    created_at timestamptz NOT NULL DEFAULT now(),
    expires_at timestamptz NOT NULL
);
CREATE INDEX session_person ON session (person_id);

CREATE TABLE api_token (
    id uuid PRIMARY KEY DEFAULT gen_random_uuid(),
    token_hash bytea NOT NULL UNIQUE,
    person_id uuid NOT NULL REFERENCES person,
    label text NOT NULL,
    created_at timestamptz NOT NULL DEFAULT now(),
    expires_at timestamptz,
    revoked_at timestamptz
);

-- Tries to sign in, written before the password is looked at; those older than the window are deleted.
CREATE TABLE sign_in_try (
    name text NOT NULL,                          -- as typed, in lower case: it need not exist
    address text NOT NULL,
    at timestamptz NOT NULL
);
CREATE INDEX sign_in_try_name ON sign_in_try (name, at);
CREATE INDEX sign_in_try_address ON sign_in_try (address, at);

CREATE TABLE contact (
    id uuid PRIMARY KEY DEFAULT gen_random_uuid(),
    person_id uuid NOT NULL REFERENCES person,
    position integer NOT NULL DEFAULT 1,         -- tried in this order
    way text NOT NULL CHECK (way IN ('email', 'webhook')),
    address text NOT NULL,
    secret text,                                 -- signs webhooks
    removed_at timestamptz
);
CREATE UNIQUE INDEX contact_position ON contact (person_id, position) WHERE removed_at IS NULL;

CREATE TABLE rota_turn (
    id uuid PRIMARY KEY DEFAULT gen_random_uuid(),
    facility_id uuid NOT NULL REFERENCES facility,
    step integer NOT NULL DEFAULT 1 CHECK (step >= 1),   -- 1 is called first, 2 when nobody answers
    person_id uuid NOT NULL REFERENCES person,
    during tstzrange NOT NULL CHECK (NOT isempty(during)),
    CONSTRAINT rota_turn_one_person EXCLUDE USING gist (facility_id WITH =, step WITH =, during WITH &&)
);

-- Findings, alarms, work -----------------------------------------------------------------------------------------

CREATE TABLE finding (
    id uuid PRIMARY KEY DEFAULT gen_random_uuid(),
    facility_id uuid NOT NULL REFERENCES facility,
    room_id uuid REFERENCES room,
    kind text NOT NULL,
    subject_type text NOT NULL,
    subject_id uuid NOT NULL,
    subject_name text NOT NULL,
    since timestamptz NOT NULL,                  -- estimated onset
    seen_at timestamptz NOT NULL,                -- first sweep that said so
    last_seen_at timestamptz NOT NULL,
    gone_at timestamptz,                         -- first sweep that no longer said so; null while it holds
    ended_at timestamptz,                        -- closed: gone for its off-delay
    harm_at timestamptz,                         -- when harm is expected if nobody acts
    evidence jsonb NOT NULL,
    explained_by jsonb NOT NULL DEFAULT '[]'     -- [kind, subject id] of what explains it, the likeliest first
);
CREATE UNIQUE INDEX finding_open ON finding (kind, subject_id) WHERE ended_at IS NULL;
CREATE INDEX finding_facility ON finding (facility_id) WHERE ended_at IS NULL;

CREATE TABLE alarm (
    id uuid PRIMARY KEY,
    facility_id uuid NOT NULL REFERENCES facility,
    room_id uuid REFERENCES room,
    kind text NOT NULL CHECK (kind IN ('drying-drift', 'sudden-wetting', 'reservoir-low', 'reservoir-empty', 'reservoir-leak',
        'supply-interrupted', 'uneven-room', 'probe-silent', 'probe-fault', 'gateway-silent', 'monitoring-stopped')),
    subject_type text NOT NULL CHECK (subject_type IN ('facility', 'room', 'reservoir', 'line', 'container', 'gateway')),
    subject_id uuid NOT NULL,
    subject_name text NOT NULL,
    priority text NOT NULL CHECK (priority IN ('high', 'medium', 'low')),
    state text NOT NULL CHECK (state IN ('unacknowledged', 'acknowledged', 'returned-unacknowledged', 'normal', 'shelved',
        'suppressed-by-design', 'out-of-service')),
    condition_present boolean NOT NULL,          -- the finding holds; with the next two, what `state` is made of
    acknowledged_at timestamptz,
    acknowledged_by uuid REFERENCES person,
    cause_id uuid REFERENCES alarm DEFERRABLE INITIALLY DEFERRED,  -- the alarm that explains this one; both may be new
    shelved_until timestamptz,
    out_of_service_until timestamptz,
    raised_at timestamptz NOT NULL,
    called_at timestamptz,                       -- when it last asked for somebody
    cleared_at timestamptz,                      -- the condition went, after its off-delay
    closed_at timestamptz,                       -- normal again: this alarm's life is over
    outcome text,                                -- how it ended, in words
    message text NOT NULL,
    evidence jsonb NOT NULL,
    version integer NOT NULL DEFAULT 1,          -- journal rows so far
    CHECK ((closed_at IS NOT NULL) = (state = 'normal')),
    CHECK (closed_at IS NULL OR outcome IS NOT NULL)
);
CREATE UNIQUE INDEX alarm_open ON alarm (kind, subject_id) WHERE closed_at IS NULL;
CREATE INDEX alarm_facility_open ON alarm (facility_id) WHERE closed_at IS NULL;
CREATE INDEX alarm_facility_newest ON alarm (facility_id, raised_at DESC, id DESC);

CREATE TABLE alarm_journal (
    alarm_id uuid NOT NULL REFERENCES alarm,
    version integer NOT NULL,                    -- 1, 2, 3 … of its alarm
    at timestamptz NOT NULL,
    event text NOT NULL CHECK (event IN ('raised', 'cleared', 'returned', 're-alarmed', 'suppressed', 'released',
        'shelving-over', 'service-over', 'retired', 'acknowledged', 'shelved', 'unshelved', 'taken-out-of-service',
        'returned-to-service')),
    state text NOT NULL CHECK (state IN ('unacknowledged', 'acknowledged', 'returned-unacknowledged', 'normal', 'shelved',
        'suppressed-by-design', 'out-of-service')),  -- after the event
    person_id uuid REFERENCES person,
    detail jsonb NOT NULL DEFAULT '{}',
    PRIMARY KEY (alarm_id, version)
);
CREATE INDEX alarm_journal_at ON alarm_journal (at);

CREATE TABLE work_entry (
    id uuid PRIMARY KEY DEFAULT gen_random_uuid(),
    facility_id uuid NOT NULL REFERENCES facility,
    room_id uuid REFERENCES room,
    kind text NOT NULL,
    subject_type text NOT NULL,
    subject_id uuid NOT NULL,
    at timestamptz NOT NULL,                     -- when it was done
    written_at timestamptz NOT NULL DEFAULT now(),
    person_id uuid REFERENCES person,
    alarm_id uuid REFERENCES alarm,
    note text NOT NULL DEFAULT ''
);
CREATE INDEX work_entry_facility ON work_entry (facility_id, at DESC);

-- Notices --------------------------------------------------------------------------------------------------------

CREATE TABLE notice (
    id uuid PRIMARY KEY DEFAULT gen_random_uuid(),
    key text NOT NULL UNIQUE,                    -- idempotency: one alarm, one journal version, one contact
    facility_id uuid NOT NULL REFERENCES facility,
    alarm_id uuid REFERENCES alarm,
    person_id uuid REFERENCES person,
    contact_id uuid REFERENCES contact,
    way text NOT NULL,
    address text NOT NULL,
    title text NOT NULL,
    body text NOT NULL,
    payload jsonb NOT NULL,                      -- the alarm as the contract shows it to programs
    created_at timestamptz NOT NULL,
    due_at timestamptz NOT NULL,                 -- next try
    expires_at timestamptz NOT NULL,
    tries integer NOT NULL DEFAULT 0,
    state text NOT NULL DEFAULT 'queued' CHECK (state IN ('queued', 'sent', 'dead', 'withdrawn')),  -- withdrawn: answered before it left
    done_at timestamptz
);
CREATE INDEX notice_due ON notice (due_at) WHERE state = 'queued';
CREATE INDEX notice_alarm ON notice (alarm_id);

CREATE TABLE notice_attempt (
    notice_id uuid NOT NULL REFERENCES notice,
    try integer NOT NULL,
    at timestamptz NOT NULL,
    ok boolean NOT NULL,
    detail text NOT NULL,
    PRIMARY KEY (notice_id, try)
);

-- The watch itself -----------------------------------------------------------------------------------------------

CREATE TABLE job_run (
    id bigint PRIMARY KEY GENERATED ALWAYS AS IDENTITY,
    job text NOT NULL,
    facility_id uuid REFERENCES facility,
    as_of timestamptz NOT NULL,
    started_at timestamptz NOT NULL,
    ended_at timestamptz,
    ok boolean,
    detail text NOT NULL DEFAULT ''
);
CREATE INDEX job_run_newest ON job_run (job, facility_id, started_at DESC);

CREATE TABLE heartbeat (
    part text NOT NULL,                          -- ingest, watch, notify, web
    instance text NOT NULL,                      -- host and process
    at timestamptz NOT NULL,
    healthy boolean NOT NULL,
    detail jsonb NOT NULL DEFAULT '{}',
    PRIMARY KEY (part, instance)
);

-- Append-only ----------------------------------------------------------------------------------------------------

CREATE TRIGGER append_only BEFORE UPDATE ON reading FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER append_only BEFORE UPDATE OR DELETE ON alarm_journal FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER append_only BEFORE UPDATE OR DELETE ON work_entry FOR EACH ROW EXECUTE FUNCTION refuse_change();

-- TimescaleDB where the server has it preloaded; plain tables otherwise -------------------------------------------

DO $$
BEGIN
    -- Its loader's setting tells that it is preloaded; `shared_preload_libraries` may be read by superusers only.
    IF current_setting('timescaledb.disable_load', true) IS NOT NULL THEN
        CREATE EXTENSION IF NOT EXISTS timescaledb;
        PERFORM create_hypertable('reading', 'at', chunk_time_interval => interval '1 day', create_default_indexes => false);
        PERFORM create_hypertable('rollup_5m', 'at', chunk_time_interval => interval '7 days', create_default_indexes => false);
    END IF;
END $$;
