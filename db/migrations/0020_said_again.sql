-- An alarm's message and outcome are stored in English. What they were made of is kept beside them, so that they can be
-- said to people in their language and units; alarms of the time before are shown as stored.

ALTER TABLE alarm ADD COLUMN made_of jsonb NOT NULL DEFAULT '{}';

-- A notice is in its person's language and units. A program that is told by the person's next way reads these instead.

ALTER TABLE notice ADD COLUMN plain_title text, ADD COLUMN plain_body text;
