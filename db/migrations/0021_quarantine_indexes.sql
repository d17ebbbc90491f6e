-- What was refused is found by the moment it came (the rows of one pack, and what is old enough to go), and what was tried
-- again by when that was: without these each look reads the whole table.

CREATE INDEX quarantine_at ON quarantine (at);
CREATE INDEX quarantine_tried ON quarantine (tried_at) WHERE tried_at IS NOT NULL;
