-- When the line of an event is open and with how many people, and when each car is told to be there.
CREATE TABLE "line_plans" (
  "event_id" UUID NOT NULL,
  "settings" JSONB NOT NULL,
  "planned_by" UUID NOT NULL,
  "planned_name" TEXT NOT NULL,
  "planned_at" TIMESTAMPTZ(3) NOT NULL,
  CONSTRAINT "line_plans_pkey" PRIMARY KEY ("event_id"),
  CONSTRAINT "line_plans_event_id_fkey" FOREIGN KEY ("event_id") REFERENCES "events" ("id") ON DELETE CASCADE ON UPDATE CASCADE
);

CREATE TABLE "line_times" (
  "entry_id" UUID NOT NULL,
  "event_id" UUID NOT NULL,
  "at" TIMESTAMPTZ(3) NOT NULL,
  "lane" INTEGER,
  "told_at" TIMESTAMPTZ(3) NOT NULL,
  "message_id" UUID,
  "said_at" TIMESTAMPTZ(3),
  "is_moved" BOOLEAN NOT NULL DEFAULT false,
  CONSTRAINT "line_times_pkey" PRIMARY KEY ("entry_id"),
  CONSTRAINT "line_times_lane" CHECK ("lane" >= 1),
  CONSTRAINT "line_times_event_id_fkey" FOREIGN KEY ("event_id") REFERENCES "events" ("id") ON DELETE CASCADE ON UPDATE CASCADE,
  CONSTRAINT "line_times_entry_id_fkey" FOREIGN KEY ("entry_id") REFERENCES "entries" ("id") ON DELETE CASCADE ON UPDATE CASCADE
);
CREATE INDEX "line_times_event_id_idx" ON "line_times" ("event_id");

-- Called and not there: others go first for a while.
ALTER TABLE "tickets" ADD COLUMN "not_here_at" TIMESTAMPTZ(3);
