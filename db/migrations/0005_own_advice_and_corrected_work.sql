-- A facility's own text beside the steps of an alarm, and work entries that correct an earlier one.

-- By kind of alarm: what is to be known or done here and nowhere else.
ALTER TABLE facility ADD COLUMN advice jsonb NOT NULL DEFAULT '{}';

-- Entries are append-only: a mistake is followed by a row that names the one it stands in place of. `withdrawn` rows
-- say that nothing of the kind was done.
ALTER TABLE work_entry ADD COLUMN corrects uuid REFERENCES work_entry;
ALTER TABLE work_entry ADD COLUMN withdrawn boolean NOT NULL DEFAULT false;
ALTER TABLE work_entry ADD CONSTRAINT work_entry_withdraws_another CHECK (NOT withdrawn OR corrects IS NOT NULL);
CREATE UNIQUE INDEX work_entry_corrected_once ON work_entry (corrects);

CREATE INDEX work_entry_alarm ON work_entry (alarm_id) WHERE alarm_id IS NOT NULL;

-- Journal entries that judge work, for lists of work done lately.
CREATE INDEX alarm_journal_judged ON alarm_journal (at) WHERE detail ? 'judged';
