-- What was chosen to look at on a car beyond what must be, and why: written once, with the claim. Null: nothing was chosen yet.
ALTER TABLE "claims" ADD COLUMN "looks" JSONB;
