-- A car at an event, whichever entries it has: what is wrong with it stands here and counts for each of them.

CREATE TABLE "car_clearances" (
    "id" UUID NOT NULL,
    "event_id" UUID NOT NULL,
    "vehicle_id" UUID NOT NULL,
    "facts" JSONB NOT NULL,
    "rev" BIGINT NOT NULL DEFAULT 1,
    "history_seq" INTEGER NOT NULL DEFAULT 0,
    "history_hash" TEXT NOT NULL DEFAULT '',
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "car_clearances_pkey" PRIMARY KEY ("id")
);

CREATE UNIQUE INDEX "car_clearances_event_id_vehicle_id_key" ON "car_clearances"("event_id", "vehicle_id");
CREATE INDEX "car_clearances_vehicle_id_idx" ON "car_clearances"("vehicle_id");

ALTER TABLE "car_clearances" ADD CONSTRAINT "car_clearances_event_id_fkey" FOREIGN KEY ("event_id") REFERENCES "events"("id") ON DELETE RESTRICT ON UPDATE CASCADE;
ALTER TABLE "car_clearances" ADD CONSTRAINT "car_clearances_vehicle_id_fkey" FOREIGN KEY ("vehicle_id") REFERENCES "vehicles"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- Ids of rows from before are random: nothing goes by their order but the order of locks.
INSERT INTO "car_clearances" ("id", "event_id", "vehicle_id", "facts")
  SELECT gen_random_uuid(), c."event_id", c."vehicle_id",
    '{"holds":[],"refusals":[],"recalls":[],"conditions":[],"voidStickers":[]}'::jsonb
  FROM (SELECT DISTINCT "event_id", "vehicle_id" FROM "entries") c;

ALTER TABLE "clearances" ADD COLUMN "car_id" UUID;
UPDATE "clearances" c SET "car_id" = k."id"
  FROM "entries" e JOIN "car_clearances" k ON k."event_id" = e."event_id" AND k."vehicle_id" = e."vehicle_id"
  WHERE e."id" = c."entry_id";
ALTER TABLE "clearances" ALTER COLUMN "car_id" SET NOT NULL;
CREATE INDEX "clearances_car_id_idx" ON "clearances"("car_id");
ALTER TABLE "clearances" ADD CONSTRAINT "clearances_car_id_fkey" FOREIGN KEY ("car_id") REFERENCES "car_clearances"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

CREATE INDEX "sign_offs_entry_id_idx" ON "sign_offs"("entry_id");

ALTER TABLE "history" ADD CONSTRAINT "history_car_id_fkey" FOREIGN KEY ("car_id") REFERENCES "car_clearances"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- What a hold is about, of which kind it is, and what lifted it. Holds from before are about their entry.
ALTER TABLE "holds"
  ADD COLUMN "about" TEXT NOT NULL DEFAULT 'entry',
  ADD COLUMN "kind" TEXT NOT NULL DEFAULT 'other',
  ADD COLUMN "car_id" UUID,
  ADD COLUMN "person_id" TEXT,
  ADD COLUMN "by_entrant" BOOLEAN NOT NULL DEFAULT false,
  ADD COLUMN "lift_checks" JSONB,
  ADD COLUMN "lift_exception" TEXT;
ALTER TABLE "holds"
  ADD CONSTRAINT "holds_about_check" CHECK ("about" IN ('car', 'driver', 'entry')),
  ADD CONSTRAINT "holds_car_check" CHECK (("about" = 'car') = ("car_id" IS NOT NULL)),
  ADD CONSTRAINT "holds_person_check" CHECK ("about" = 'driver' OR "person_id" IS NULL),
  ADD CONSTRAINT "holds_car_id_fkey" FOREIGN KEY ("car_id") REFERENCES "car_clearances"("id") ON DELETE RESTRICT ON UPDATE CASCADE;
CREATE INDEX "holds_car_id_idx" ON "holds"("car_id");
-- One standing hold of the entrant's own per entry: a repeat is the same one.
CREATE UNIQUE INDEX "holds_one_own_per_entry" ON "holds"("entry_id") WHERE "by_entrant" AND "lifted_at" IS NULL;
