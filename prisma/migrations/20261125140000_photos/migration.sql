-- CreateTable
CREATE TABLE "photos" (
    "id" UUID NOT NULL,
    "entry_id" UUID NOT NULL,
    "item_key" TEXT NOT NULL,
    "position" TEXT,
    "content_hash" TEXT NOT NULL,
    "media_type" TEXT NOT NULL,
    "width" INTEGER NOT NULL,
    "height" INTEGER NOT NULL,
    "bytes" INTEGER NOT NULL,
    "uploaded_by" UUID NOT NULL,
    "uploaded_role" TEXT NOT NULL,
    "uploaded_name" TEXT NOT NULL,
    "uploaded_at" TIMESTAMPTZ(3) NOT NULL,
    "removed_at" TIMESTAMPTZ(3),

    CONSTRAINT "photos_pkey" PRIMARY KEY ("id")
);

-- CreateIndex
CREATE INDEX "photos_entry_id_idx" ON "photos"("entry_id");

-- CreateIndex
CREATE INDEX "photos_content_hash_idx" ON "photos"("content_hash");

-- AddForeignKey
ALTER TABLE "photos" ADD CONSTRAINT "photos_entry_id_fkey" FOREIGN KEY ("entry_id") REFERENCES "entries"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- By hand from here: what Prisma's schema language cannot say.

ALTER TABLE "photos"
  ADD CONSTRAINT "photos_hash_check" CHECK ("content_hash" ~ '^[0-9a-f]{64}$'),
  ADD CONSTRAINT "photos_size_check" CHECK ("bytes" > 0 AND "width" > 0 AND "height" > 0);
