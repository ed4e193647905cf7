-- What was measured or felt after a session, beside the declaration. Rows never change but for an erased name.
CREATE TABLE "session_log" (
  "id" UUID NOT NULL,
  "entry_id" UUID NOT NULL,
  "kind" TEXT NOT NULL,
  "session" TEXT,
  "at" TIMESTAMPTZ(3) NOT NULL,
  "content" JSONB NOT NULL,
  "effects" JSONB NOT NULL,
  "written_by" UUID NOT NULL,
  "written_role" TEXT NOT NULL,
  "written_name" TEXT NOT NULL,
  "written_at" TIMESTAMPTZ(3) NOT NULL,
  CONSTRAINT "session_log_pkey" PRIMARY KEY ("id")
);
-- The list of an entry, newest first.
CREATE INDEX "session_log_entry_id_id_idx" ON "session_log"("entry_id", "id" DESC);
ALTER TABLE "session_log" ADD CONSTRAINT "session_log_entry_id_fkey"
  FOREIGN KEY ("entry_id") REFERENCES "entries"("id") ON DELETE RESTRICT ON UPDATE CASCADE;
ALTER TABLE "session_log" ADD CONSTRAINT "session_log_kind" CHECK (
  "kind" IN ('pressures', 'torque', 'pads', 'tread', 'laps', 'temperatures', 'symptom', 'note')
);
CREATE TRIGGER "session_log_immutable" BEFORE UPDATE OR DELETE ON "session_log"
  FOR EACH ROW EXECUTE FUNCTION "refuse_change_but_erasure"('written_name');
