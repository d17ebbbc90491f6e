-- Notices that bring a weekly report to those who want it.

ALTER TABLE notice DROP CONSTRAINT notice_purpose_check;
ALTER TABLE notice ADD CONSTRAINT notice_purpose_check CHECK (purpose IN ('call', 'test', 'report'));
