-- The head of the chain of history rows about the event itself, changed under the lock of the event's row.
ALTER TABLE "events" ADD COLUMN "history_seq" INTEGER NOT NULL DEFAULT 0;
ALTER TABLE "events" ADD COLUMN "history_hash" TEXT NOT NULL DEFAULT '';
