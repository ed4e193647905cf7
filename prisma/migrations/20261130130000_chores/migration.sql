-- A job that failed for good is not added again, and each chore of the keeper finds its rows by an index.

-- AlterTable
ALTER TABLE "outbox" ADD COLUMN     "failed_at" TIMESTAMPTZ(3);

-- By hand from here: what Prisma's schema language cannot say.

ALTER TABLE "outbox" ADD CONSTRAINT "outbox_end_check" CHECK ("done_at" IS NULL OR "failed_at" IS NULL);
DROP INDEX "outbox_undone";
CREATE INDEX "outbox_undone" ON "outbox" ("published_at") WHERE "done_at" IS NULL AND "failed_at" IS NULL;
CREATE INDEX "outbox_done" ON "outbox" ("done_at") WHERE "done_at" IS NOT NULL;
CREATE INDEX "outbox_failed" ON "outbox" ("failed_at") WHERE "failed_at" IS NOT NULL;
CREATE INDEX "webhook_deliveries_finished" ON "webhook_deliveries" ("finished_at") WHERE "finished_at" IS NOT NULL;
-- Checks that nothing speaks against go earlier than the others: see the decisions of the gate.
CREATE INDEX "gate_checks_contradicted" ON "gate_checks" ("event_id", "id") WHERE "contradicts" IS NOT NULL;
