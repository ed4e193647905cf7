-- The history of an event is one chain: reordering rows of different cars shows as well.

CREATE TABLE "event_chains" (
    "event_id" UUID NOT NULL,
    "seq" INTEGER NOT NULL,
    "hash" TEXT NOT NULL,
    "updated_at" TIMESTAMPTZ(3) NOT NULL,

    CONSTRAINT "event_chains_pkey" PRIMARY KEY ("event_id")
);

ALTER TABLE "event_chains" ADD CONSTRAINT "event_chains_event_id_fkey" FOREIGN KEY ("event_id") REFERENCES "events"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

ALTER TABLE "history" ADD COLUMN "event_id" UUID, ADD COLUMN "event_seq" INTEGER, ADD COLUMN "event_hash" TEXT;

-- The next link: the same words as `eventHash` in src/domain/event-chain.ts.
CREATE FUNCTION "event_link"("prev" TEXT, "seq" INTEGER, "row_hash" TEXT) RETURNS TEXT LANGUAGE sql IMMUTABLE AS $$
  SELECT encode(sha256(convert_to("prev" || ':' || "seq" || ':' || "row_hash", 'UTF8')), 'hex')
$$;

-- Rows from before are linked in the order in which they were written.
ALTER TABLE "history" DISABLE TRIGGER "history_immutable";
DO $$
DECLARE
  row RECORD;
  head RECORD;
BEGIN
  FOR row IN
    SELECT h."id", h."hash", e."event_id" FROM "history" h JOIN "entries" e ON e."id" = h."entry_id"
    ORDER BY h."at", h."id"
  LOOP
    INSERT INTO "event_chains" AS c ("event_id", "seq", "hash", "updated_at")
      VALUES (row."event_id", 1, "event_link"('', 1, row."hash"), now())
      ON CONFLICT ("event_id") DO UPDATE
        SET "seq" = c."seq" + 1, "hash" = "event_link"(c."hash", c."seq" + 1, row."hash")
      RETURNING c."seq", c."hash" INTO head;
    UPDATE "history" SET "event_id" = row."event_id", "event_seq" = head."seq", "event_hash" = head."hash"
      WHERE "id" = row."id";
  END LOOP;
END $$;
ALTER TABLE "history" ENABLE TRIGGER "history_immutable";

ALTER TABLE "history"
  ALTER COLUMN "event_id" SET NOT NULL,
  ALTER COLUMN "event_seq" SET NOT NULL,
  ALTER COLUMN "event_hash" SET NOT NULL;
CREATE UNIQUE INDEX "history_event_id_event_seq_key" ON "history"("event_id", "event_seq");
