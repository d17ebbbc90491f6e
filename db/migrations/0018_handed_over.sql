-- An alarm that nobody has answered when the duty changes hands calls who takes over.
ALTER TABLE alarm_journal DROP CONSTRAINT alarm_journal_event_check;
ALTER TABLE alarm_journal ADD CONSTRAINT alarm_journal_event_check CHECK (event IN ('raised', 'cleared', 'returned',
    're-alarmed', 'suppressed', 'released', 'shelving-over', 'service-over', 'retired', 'called', 'escalated',
    'handed-over', 'acknowledged', 'shelved', 'unshelved', 'taken-out-of-service', 'returned-to-service'));
