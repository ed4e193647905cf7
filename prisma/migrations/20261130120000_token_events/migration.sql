-- Tokens of the staff are for named events and end with them.

-- AlterTable
ALTER TABLE "enrolments" ADD COLUMN     "event_ids" UUID[] DEFAULT ARRAY[]::UUID[];

-- CreateTable
CREATE TABLE "token_events" (
    "token_id" UUID NOT NULL,
    "event_id" UUID NOT NULL,

    CONSTRAINT "token_events_pkey" PRIMARY KEY ("token_id","event_id")
);

-- CreateIndex
CREATE INDEX "token_events_event_id_idx" ON "token_events"("event_id");

-- AddForeignKey
ALTER TABLE "token_events" ADD CONSTRAINT "token_events_token_id_fkey" FOREIGN KEY ("token_id") REFERENCES "tokens"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "token_events" ADD CONSTRAINT "token_events_event_id_fkey" FOREIGN KEY ("event_id") REFERENCES "events"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- By hand from here: what Prisma's schema language cannot say.

ALTER TABLE "enrolments" ALTER COLUMN "event_ids" SET NOT NULL;

-- Whoever keeps something open for a token hears at once that it may do less, whoever made it so.
CREATE FUNCTION "tell_token_changed"() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  PERFORM pg_notify('gridworthy_tokens', COALESCE(to_jsonb(NEW), to_jsonb(OLD))->>TG_ARGV[0]);
  RETURN NULL;
END $$;

CREATE TRIGGER "tokens_changed" AFTER UPDATE OF "revoked_at", "expires_at" ON "tokens"
  FOR EACH ROW WHEN (OLD."revoked_at" IS DISTINCT FROM NEW."revoked_at" OR OLD."expires_at" IS DISTINCT FROM NEW."expires_at")
  EXECUTE FUNCTION "tell_token_changed"('id');
CREATE TRIGGER "token_events_changed" AFTER INSERT OR DELETE ON "token_events"
  FOR EACH ROW EXECUTE FUNCTION "tell_token_changed"('token_id');
