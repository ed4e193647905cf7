-- What the line of an event reads with: a list of instruments with their expanded uncertainties. Empty: only the usual ones.
ALTER TABLE "events" ADD COLUMN "instruments" JSONB NOT NULL DEFAULT '[]';
ALTER TABLE "events" ADD CONSTRAINT "events_instruments" CHECK (jsonb_typeof("instruments") = 'array');
