-- AlterTable
ALTER TABLE "entries" ADD COLUMN     "erased_at" TIMESTAMPTZ(3);

-- AlterTable
ALTER TABLE "events" ADD COLUMN     "retention_days" INTEGER NOT NULL DEFAULT 365;

-- AlterTable
ALTER TABLE "tokens" ADD COLUMN     "expires_at" TIMESTAMPTZ(3);

-- By hand from here: what Prisma's schema language cannot say.

ALTER TABLE "events" ADD CONSTRAINT "events_retention_check" CHECK ("retention_days" BETWEEN 0 AND 3650);

-- Rows that never change may lose the name of a person, and nothing else: the name is in no hash.
CREATE FUNCTION "refuse_change_but_erasure"() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF TG_OP = 'UPDATE'
    AND to_jsonb(NEW) - TG_ARGV[0] = to_jsonb(OLD) - TG_ARGV[0]
    AND to_jsonb(NEW) ->> TG_ARGV[0] = 'erased' THEN
    RETURN NEW;
  END IF;
  RAISE EXCEPTION '% is append-only: % refused', TG_TABLE_NAME, TG_OP USING ERRCODE = 'restrict_violation';
END $$;
DROP TRIGGER "inspections_immutable" ON "inspections";
CREATE TRIGGER "inspections_immutable" BEFORE UPDATE OR DELETE ON "inspections"
  FOR EACH ROW EXECUTE FUNCTION "refuse_change_but_erasure"('submitted_name');
DROP TRIGGER "history_immutable" ON "history";
CREATE TRIGGER "history_immutable" BEFORE UPDATE OR DELETE ON "history"
  FOR EACH ROW EXECUTE FUNCTION "refuse_change_but_erasure"('actor_name');
