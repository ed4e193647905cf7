-- Which backups were made, where they lie, and how they were found when they were looked at.

-- CreateTable
CREATE TABLE "backups" (
    "id" UUID NOT NULL,
    "name" TEXT NOT NULL,
    "place" TEXT NOT NULL,
    "started_at" TIMESTAMPTZ(3) NOT NULL,
    "finished_at" TIMESTAMPTZ(3),
    "bytes" BIGINT,
    "sha256" TEXT,
    "encrypted" BOOLEAN NOT NULL,
    "verified" TEXT,
    "verified_at" TIMESTAMPTZ(3),
    "error" TEXT,
    "removed_at" TIMESTAMPTZ(3),

    CONSTRAINT "backups_pkey" PRIMARY KEY ("id")
);

-- CreateIndex
CREATE INDEX "backups_started_at_idx" ON "backups"("started_at");

-- By hand from here: what Prisma's schema language cannot say.

ALTER TABLE "backups" ADD CONSTRAINT "backups_verified_check" CHECK ("verified" IN ('restored', 'read'));
ALTER TABLE "backups" ADD CONSTRAINT "backups_sha256_check" CHECK ("sha256" ~ '^[0-9a-f]{64}$');
-- What is finished has its sum, and what was looked at was finished.
ALTER TABLE "backups" ADD CONSTRAINT "backups_finished_check" CHECK (("finished_at" IS NULL) = ("sha256" IS NULL));
ALTER TABLE "backups" ADD CONSTRAINT "backups_order_check" CHECK ("verified" IS NULL OR "finished_at" IS NOT NULL);
