-- Calls that are alike leave in one notice also without a flood; it is over once all of its alarms were answered.

CREATE OR REPLACE FUNCTION is_answered(notice_key text) RETURNS boolean LANGUAGE sql STABLE AS $$
    SELECT coalesce(bool_and(a.state NOT IN ('unacknowledged', 'returned-unacknowledged')), false)
    FROM alarm_call c JOIN alarm a ON a.id = c.alarm_id
    WHERE c.notice = left(notice_key, -37)  -- without the contact
$$;
DROP INDEX alarm_call_notice;
CREATE INDEX alarm_call_notice ON alarm_call (notice) WHERE notice IS NOT NULL;
