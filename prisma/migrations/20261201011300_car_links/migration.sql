-- The link of a car: a token of its owner, for this car and nothing else, across events.
ALTER TABLE "tokens" ADD COLUMN "vehicle_id" UUID;
ALTER TABLE "tokens" ADD CONSTRAINT "tokens_vehicle_id_fkey"
  FOREIGN KEY ("vehicle_id") REFERENCES "vehicles"("id") ON DELETE SET NULL ON UPDATE CASCADE;
CREATE INDEX "tokens_vehicle_id_idx" ON "tokens"("vehicle_id");
ALTER TABLE "tokens" DROP CONSTRAINT "tokens_role_check";
ALTER TABLE "tokens"
  ADD CONSTRAINT "tokens_role_check" CHECK ("role" IN ('organizer', 'chief', 'inspector', 'marshal', 'entrant', 'owner')),
  ADD CONSTRAINT "tokens_vehicle_check" CHECK (("role" = 'owner') = ("vehicle_id" IS NOT NULL));
