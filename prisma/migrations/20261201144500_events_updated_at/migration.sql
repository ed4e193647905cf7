-- When an event was last changed in any way: its own values, or what its history tells of its groups, venue and people. For callers who ask
-- for what changed since they last looked.
ALTER TABLE "events" ADD COLUMN "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP;
CREATE INDEX "events_updated_at_idx" ON "events"("updated_at");
CREATE FUNCTION events_updated() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  NEW.updated_at := now();
  RETURN NEW;
END $$;
CREATE TRIGGER events_updated BEFORE UPDATE ON "events" FOR EACH ROW EXECUTE FUNCTION events_updated();
