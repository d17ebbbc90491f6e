-- Who changed what: one entry for each request or command that changed something, with each row it changed.
--
-- Rows are noted by the database itself, so that no way of writing can forget it. Whoever writes for a person says so in
-- the setting `wickwatch.audit`: the entry's columns as JSON. Services that watch, ingest and send set nothing and are
-- not noted.

CREATE TABLE audit_entry (
    id uuid PRIMARY KEY,
    at timestamptz NOT NULL,
    person_id uuid REFERENCES person,            -- null: a command, run by whoever may use the machine
    who text NOT NULL,                           -- the name as it was then; of a command the machine's account
    via text NOT NULL CHECK (via IN ('page', 'api', 'command', 'link')),
    address text NOT NULL,                       -- where it came from; of a command the machine
    action text NOT NULL,                        -- POST /alarms/{id}/acknowledge, or wickwatch user add
    told text NOT NULL                           -- the same in words
);
CREATE INDEX audit_entry_newest ON audit_entry (at DESC, id DESC);

CREATE TABLE audit_change (
    id bigint PRIMARY KEY GENERATED ALWAYS AS IDENTITY,
    entry_id uuid NOT NULL REFERENCES audit_entry,
    facility_id uuid REFERENCES facility,        -- null: of no facility in particular, such as a person
    thing text NOT NULL,                         -- the table
    thing_id text NOT NULL,
    name text NOT NULL,                          -- as people call it
    old jsonb,                                   -- null: it is new
    new jsonb                                    -- null: it was removed
);
CREATE INDEX audit_change_entry ON audit_change (entry_id);

CREATE TRIGGER append_only BEFORE UPDATE OR DELETE ON audit_entry FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER append_only BEFORE UPDATE OR DELETE ON audit_change FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER append_only_whole BEFORE TRUNCATE ON audit_entry EXECUTE FUNCTION refuse_change();
CREATE TRIGGER append_only_whole BEFORE TRUNCATE ON audit_change EXECUTE FUNCTION refuse_change();

-- Note one change under the entry that the setting names, which is written with its first.
CREATE FUNCTION audit(facility uuid, thing text, thing_id text, name text, old jsonb, new jsonb) RETURNS void
LANGUAGE plpgsql AS $$
DECLARE
    entry jsonb := current_setting('wickwatch.audit')::jsonb;
BEGIN
    INSERT INTO audit_entry SELECT * FROM jsonb_populate_record(NULL::audit_entry, entry) ON CONFLICT (id) DO NOTHING;
    INSERT INTO audit_change (entry_id, facility_id, thing, thing_id, name, old, new)
    VALUES ((entry->>'id')::uuid, facility, thing, thing_id, name, old, new);
END $$;

-- The facility that a row is of, where it is of one.
CREATE FUNCTION audit_facility(thing text, line jsonb) RETURNS uuid LANGUAGE sql STABLE AS $$
    SELECT CASE
        WHEN thing = 'facility' THEN (line->>'id')::uuid
        WHEN line ? 'facility_id' THEN (line->>'facility_id')::uuid
        WHEN line ? 'channel_id' THEN (SELECT facility_id FROM channel WHERE id = (line->>'channel_id')::integer)
        WHEN line ? 'pattern_id' THEN (SELECT facility_id FROM rota_pattern WHERE id = (line->>'pattern_id')::uuid)
        WHEN line ? 'room_id' THEN (SELECT facility_id FROM room WHERE id = (line->>'room_id')::uuid)
    END
$$;

-- Notes what a row was and is: of a change only what differs. Its first argument lists columns that nobody may read
-- again, its second such as say nothing to people.
CREATE FUNCTION audit_row() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    hidden text[] := string_to_array(coalesce(TG_ARGV[0], ''), ' ');
    skipped text[] := string_to_array(coalesce(TG_ARGV[1], ''), ' ');
    was jsonb := CASE WHEN TG_OP <> 'INSERT' THEN to_jsonb(OLD) END;
    is_now jsonb := CASE WHEN TG_OP <> 'DELETE' THEN to_jsonb(NEW) END;
    line jsonb := coalesce(is_now, was);
    key text;
BEGIN
    was := was - skipped;
    is_now := is_now - skipped;
    IF TG_OP = 'UPDATE' THEN
        FOR key IN SELECT jsonb_object_keys(is_now) LOOP
            IF was->key = is_now->key THEN
                was := was - key;
                is_now := is_now - key;
            END IF;
        END LOOP;
        IF is_now = '{}' THEN
            RETURN NULL;
        END IF;
    END IF;
    FOREACH key IN ARRAY hidden LOOP
        IF was->>key IS NOT NULL THEN was := was || jsonb_build_object(key, 'hidden'); END IF;
        IF is_now->>key IS NOT NULL THEN is_now := is_now || jsonb_build_object(key, 'hidden'); END IF;
    END LOOP;
    PERFORM audit(
        audit_facility(TG_TABLE_NAME, line), TG_TABLE_NAME, coalesce(line->>'id', line->>'person_id', ''),
        coalesce(line->>'name', line->>'subject_name', line->>'label', line->>'slug', ''),
        jsonb_strip_nulls(was), jsonb_strip_nulls(is_now));
    RETURN NULL;
END $$;

-- Everything that people decide. What machines bring (readings, channels, findings) and what follows by itself (the
-- alarms' journal, calls) is recorded where it stands.
DO $$
DECLARE
    one record;
BEGIN
    FOR one IN SELECT * FROM (VALUES
        ('facility', 'INSERT OR UPDATE OR DELETE', '', 'created_at'),
        ('gateway', 'INSERT OR UPDATE OR DELETE', '', 'created_at status status_at heard_at'),
        ('room', 'INSERT OR UPDATE OR DELETE', '', 'created_at'),
        ('reservoir', 'INSERT OR UPDATE OR DELETE', '', 'created_at'),
        ('supply_line', 'INSERT OR UPDATE OR DELETE', '', 'created_at'),
        ('container', 'INSERT OR UPDATE OR DELETE', '', 'created_at'),
        ('assignment', 'INSERT OR UPDATE OR DELETE', '', 'created_at'),
        ('person', 'INSERT OR UPDATE OR DELETE', 'password_hash', 'created_at'),
        ('membership', 'INSERT OR UPDATE OR DELETE', '', ''),
        ('session', 'INSERT OR DELETE', 'token_hash', 'expires_at used_at'),
        ('api_token', 'INSERT OR UPDATE OR DELETE', 'token_hash', 'created_at used_at'),
        ('contact', 'INSERT OR UPDATE OR DELETE', 'secret', ''),
        ('quiet_hours', 'INSERT OR UPDATE OR DELETE', '', ''),
        ('rota_turn', 'INSERT OR UPDATE OR DELETE', '', ''),
        ('rota_pattern', 'INSERT OR UPDATE OR DELETE', '', 'created_at'),
        ('rota_pattern_person', 'INSERT OR UPDATE OR DELETE', '', ''),
        ('rota_step', 'INSERT OR UPDATE OR DELETE', '', ''),
        ('rota_holidays', 'INSERT OR UPDATE OR DELETE', '', ''),
        ('rota_feed', 'INSERT OR UPDATE OR DELETE', 'token_hash', ''),
        ('alarm', 'UPDATE', '', 'version called_at rung evidence message harm_at'),
        ('work_entry', 'INSERT', '', 'written_at'),
        ('out_of_service', 'INSERT OR UPDATE', '', ''),
        ('rule_trial', 'INSERT OR UPDATE', '', 'told_at share result'),
        ('report_order', 'INSERT', '', 'claimed_until tries doing share'),
        ('report_subscription', 'INSERT OR DELETE', '', '')
    ) AS named (thing, events, hidden, skipped) LOOP
        EXECUTE format(
            'CREATE TRIGGER audited AFTER %s ON %I FOR EACH ROW '
            'WHEN (coalesce(current_setting(''wickwatch.audit'', true), '''') <> '''') EXECUTE FUNCTION audit_row(%L, %L)',
            one.events, one.thing, one.hidden, one.skipped);
    END LOOP;
END $$;

-- Messages that a person sent or sent again; those that an answered alarm takes back follow by themselves.
CREATE TRIGGER audited AFTER INSERT OR UPDATE ON notice FOR EACH ROW
    WHEN (NEW.state = 'queued' AND coalesce(current_setting('wickwatch.audit', true), '') <> '')
    EXECUTE FUNCTION audit_row('', 'key title body payload created_at due_at expires_at done_at address');
