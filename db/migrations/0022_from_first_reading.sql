-- What a fleet file attaches before anything was heard of it, with no moment named, is attached from its first reading on:
-- a history that is brought later, or that a gateway kept, begins earlier than the file was applied.

ALTER TABLE assignment ADD COLUMN from_first_reading boolean NOT NULL DEFAULT false;

DROP TRIGGER audited ON assignment;
CREATE TRIGGER audited AFTER INSERT OR UPDATE OR DELETE ON assignment FOR EACH ROW
    WHEN (coalesce(current_setting('wickwatch.audit', true), '') <> '')
    EXECUTE FUNCTION audit_row('', 'created_at from_first_reading');
