-- What concerns one event costs the same whatever else is in the database: an index for each order and each question that
-- was answered by reading what belongs to others.

-- Which heads are signed is known of the tree itself: every five seconds somebody asks, and almost always all are.
ALTER TABLE "event_trees" ADD COLUMN "signed_size" INTEGER NOT NULL DEFAULT 0;
UPDATE "event_trees" t SET "signed_size" = t."size"
  WHERE EXISTS (SELECT FROM "event_heads" h WHERE h."event_id" = t."event_id" AND h."size" = t."size");
CREATE INDEX "event_trees_unsigned" ON "event_trees" ("event_id") WHERE "signed_size" <> "size";

-- The list of events, latest first.
CREATE INDEX "events_starts_on_id_idx" ON "events" ("starts_on" DESC, "id" DESC);
-- The list of an event's entries, in the order in which they were made.
CREATE INDEX "entries_event_id_id_idx" ON "entries" ("event_id", "id");
-- Readiness: who has been at the line, and how long it took of late.
CREATE INDEX "tickets_event_id_idx" ON "tickets" ("event_id");
CREATE INDEX "sign_offs_event_id_id_idx" ON "sign_offs" ("event_id", "id" DESC);
-- Deliveries of a webhook in one state, newest first.
CREATE INDEX "webhook_deliveries_webhook_id_state_id_idx" ON "webhook_deliveries" ("webhook_id", "state", "id");
-- Tasks about one subject, newest first.
CREATE INDEX "tasks_subject_id_kind_id_idx" ON "tasks" ("subject_id", "kind", "id");
DROP INDEX "tasks_subject_id_kind_idx";

-- A start asks whether there is one, and a revocation whether there is another.
CREATE INDEX "tokens_organizers" ON "tokens" ("id") WHERE "role" = 'organizer';
-- Invitations that can still be used.
CREATE INDEX "enrolments_open" ON "enrolments" ("expires_at") WHERE "used_at" IS NULL;
-- Where else a person is entered, when somebody asks what is kept of him or he is erased.
CREATE INDEX "entries_person_keys" ON "entries" USING gin ("person_keys");
-- Entries whose people are still on record, by their event: found when its time is over.
CREATE INDEX "entries_with_people" ON "entries" ("event_id", "id")
  WHERE "erased_at" IS NULL OR "entrant" <> '{"name": "erased"}'::jsonb;
