-- Since when the track is said to be wet for a run group, and by whom. The gate joins it; all three or none.
ALTER TABLE "run_groups" ADD COLUMN "wet_since" TIMESTAMPTZ(3);
ALTER TABLE "run_groups" ADD COLUMN "wet_by" UUID;
ALTER TABLE "run_groups" ADD COLUMN "wet_name" TEXT;
ALTER TABLE "run_groups" ADD CONSTRAINT "run_groups_wet" CHECK (
  ("wet_since" IS NULL) = ("wet_by" IS NULL) AND ("wet_since" IS NULL) = ("wet_name" IS NULL)
);
