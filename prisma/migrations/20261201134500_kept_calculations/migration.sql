-- A computation that somebody kept with a car: what was asked, not what came out, which is worked out when it is shown.
CREATE TABLE "kept_calculations" (
  "id" UUID NOT NULL,
  "vehicle_id" UUID NOT NULL,
  "name" TEXT NOT NULL,
  "body" JSONB NOT NULL,
  "kept_by" TEXT NOT NULL,
  "kept_at" TIMESTAMPTZ(3) NOT NULL,
  "link_hash" BYTEA,
  CONSTRAINT "kept_calculations_pkey" PRIMARY KEY ("id"),
  CONSTRAINT "kept_calculations_vehicle_id_fkey" FOREIGN KEY ("vehicle_id") REFERENCES "vehicles"("id") ON DELETE CASCADE ON UPDATE CASCADE
);
CREATE INDEX "kept_calculations_vehicle_id_idx" ON "kept_calculations"("vehicle_id");
CREATE UNIQUE INDEX "kept_calculations_link_hash_key" ON "kept_calculations"("link_hash");
