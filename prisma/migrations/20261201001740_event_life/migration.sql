-- AlterTable
ALTER TABLE "events" ADD COLUMN     "cancel_reason" TEXT,
ADD COLUMN     "cancelled_at" TIMESTAMPTZ(3),
ADD COLUMN     "cancelled_by" UUID,
ADD COLUMN     "cancelled_name" TEXT;

-- CreateTable
CREATE TABLE "set_up_skips" (
    "event_id" UUID NOT NULL,
    "step" TEXT NOT NULL,
    "skipped_by" UUID NOT NULL,
    "skipped_name" TEXT NOT NULL,
    "skipped_at" TIMESTAMPTZ(3) NOT NULL,

    CONSTRAINT "set_up_skips_pkey" PRIMARY KEY ("event_id","step")
);

-- CreateTable
CREATE TABLE "deletions" (
    "id" UUID NOT NULL,
    "kind" TEXT NOT NULL,
    "subject_id" UUID NOT NULL,
    "name" TEXT NOT NULL,
    "what" JSONB NOT NULL,
    "deleted_by" UUID NOT NULL,
    "deleted_name" TEXT NOT NULL,
    "deleted_at" TIMESTAMPTZ(3) NOT NULL,

    CONSTRAINT "deletions_pkey" PRIMARY KEY ("id")
);

-- AddForeignKey
ALTER TABLE "set_up_skips" ADD CONSTRAINT "set_up_skips_event_id_fkey" FOREIGN KEY ("event_id") REFERENCES "events"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- By hand from here: what Prisma's schema language cannot say.

ALTER TABLE "events" ADD CONSTRAINT "events_cancelled_check" CHECK (
  num_nonnulls("cancelled_at", "cancelled_by", "cancelled_name", "cancel_reason") IN (0, 4)
);
ALTER TABLE "set_up_skips" ADD CONSTRAINT "set_up_skips_step_check" CHECK ("step" IN ('venue', 'people', 'entries', 'links'));
ALTER TABLE "deletions" ADD CONSTRAINT "deletions_kind_check" CHECK ("kind" IN ('venue', 'event', 'run-group', 'rule-set'));
CREATE TRIGGER "deletions_immutable" BEFORE UPDATE OR DELETE ON "deletions"
  FOR EACH ROW EXECUTE FUNCTION "refuse_change"();

-- Rows that never change go in one case only: with a whole event for which nobody ever submitted anything. The
-- transaction names that event; that it has no submission is looked up here, so that no caller can be wrong about it.
CREATE FUNCTION "goes_with_its_event"(named TEXT) RETURNS boolean LANGUAGE sql STABLE AS $$
  SELECT coalesce(named, '') <> '' AND NOT EXISTS (
    SELECT FROM "entries" e JOIN "inspections" i ON i."entry_id" = e."id" WHERE e."event_id" = nullif(named, '')::uuid
  )
$$;
CREATE OR REPLACE FUNCTION "refuse_change"() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF TG_OP = 'DELETE' AND TG_TABLE_NAME IN ('event_leaves', 'event_heads')
    AND to_jsonb(OLD) ->> 'event_id' = current_setting('gridworthy.deleted_event', true)
    AND "goes_with_its_event"(current_setting('gridworthy.deleted_event', true)) THEN
    RETURN OLD;
  END IF;
  RAISE EXCEPTION '% is append-only: % refused', TG_TABLE_NAME, TG_OP USING ERRCODE = 'restrict_violation';
END $$;
CREATE OR REPLACE FUNCTION "refuse_change_but_erasure"() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF TG_OP = 'UPDATE'
    AND to_jsonb(NEW) - TG_ARGV[0] = to_jsonb(OLD) - TG_ARGV[0]
    AND to_jsonb(NEW) ->> TG_ARGV[0] = 'erased' THEN
    RETURN NEW;
  END IF;
  IF TG_OP = 'DELETE' AND TG_TABLE_NAME IN ('history', 'session_log')
    AND "goes_with_its_event"(current_setting('gridworthy.deleted_event', true))
    AND coalesce(
      to_jsonb(OLD) ->> 'event_id',
      (SELECT e."event_id"::text FROM "entries" e WHERE e."id" = (to_jsonb(OLD) ->> 'entry_id')::uuid)
    ) = current_setting('gridworthy.deleted_event', true) THEN
    RETURN OLD;
  END IF;
  RAISE EXCEPTION '% is append-only: % refused', TG_TABLE_NAME, TG_OP USING ERRCODE = 'restrict_violation';
END $$;
