-- More ways to reach a person: a browser by Web Push, any other service by its URL; and notices that only try a way out.

ALTER TABLE contact DROP CONSTRAINT contact_way_check;
ALTER TABLE contact ADD CONSTRAINT contact_way_check CHECK (way IN ('email', 'webhook', 'push', 'service'));
ALTER TABLE contact ADD COLUMN label text NOT NULL DEFAULT '';  -- what the person calls it, such as a device's name
ALTER TABLE contact ADD COLUMN removed_why text;                -- null: by a person
COMMENT ON COLUMN contact.secret IS 'webhook: what signs it; push: the browser''s public key and secret, joined by a dot';

-- A browser has one subscription: it belongs to whoever asked for it last.
CREATE UNIQUE INDEX contact_push_once ON contact (address) WHERE way = 'push' AND removed_at IS NULL;

-- What tells push services that messages come from us (RFC 8292); made at first use, one for all copies.
CREATE TABLE push_key (
    one boolean PRIMARY KEY DEFAULT true CHECK (one),
    private_pem text NOT NULL,
    created_at timestamptz NOT NULL DEFAULT now()
);

ALTER TABLE notice ADD COLUMN purpose text NOT NULL DEFAULT 'call' CHECK (purpose IN ('call', 'test'));
CREATE INDEX notice_test ON notice (contact_id, created_at DESC) WHERE purpose = 'test';
CREATE INDEX notice_dead ON notice (facility_id, done_at DESC) WHERE state = 'dead';
