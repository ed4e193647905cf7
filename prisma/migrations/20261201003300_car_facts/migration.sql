-- Who said each fact of a car, and from what, by its path. A fact without one was written by an organizer before this was
-- kept, and counts as confirmed: no entry that exists is judged otherwise.
ALTER TABLE "vehicles" ADD COLUMN "origins" JSONB NOT NULL DEFAULT '{}';
