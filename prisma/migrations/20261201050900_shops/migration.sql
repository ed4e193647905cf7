-- A shop prepares cars of many owners. Each owner gives it a link to the own entry, for all areas or for some.
CREATE TABLE "shops" (
  "id" UUID NOT NULL,
  "name" TEXT NOT NULL,
  "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
  CONSTRAINT "shops_pkey" PRIMARY KEY ("id")
);

CREATE TABLE "shop_links" (
  "id" UUID NOT NULL,
  "entry_id" UUID NOT NULL,
  "shop_name" TEXT NOT NULL,
  "areas" TEXT[],
  "code_hash" BYTEA NOT NULL,
  "code_ends_at" TIMESTAMPTZ(3) NOT NULL,
  "created_by" UUID NOT NULL,
  "created_at" TIMESTAMPTZ(3) NOT NULL,
  "shop_id" UUID,
  "taken_at" TIMESTAMPTZ(3),
  "ended_at" TIMESTAMPTZ(3),
  "answers" JSONB NOT NULL DEFAULT '{}',
  "rev" INTEGER NOT NULL DEFAULT 1,
  CONSTRAINT "shop_links_pkey" PRIMARY KEY ("id"),
  CONSTRAINT "shop_links_taken" CHECK (("shop_id" IS NULL) = ("taken_at" IS NULL)),
  CONSTRAINT "shop_links_areas" CHECK (array_position("areas", NULL) IS NULL),
  CONSTRAINT "shop_links_entry_id_fkey" FOREIGN KEY ("entry_id") REFERENCES "entries"("id") ON DELETE RESTRICT ON UPDATE CASCADE,
  CONSTRAINT "shop_links_shop_id_fkey" FOREIGN KEY ("shop_id") REFERENCES "shops"("id") ON DELETE SET NULL ON UPDATE CASCADE
);
CREATE UNIQUE INDEX "shop_links_code_hash_key" ON "shop_links"("code_hash");
CREATE INDEX "shop_links_entry_id_idx" ON "shop_links"("entry_id");
CREATE INDEX "shop_links_shop_id_idx" ON "shop_links"("shop_id");

-- Who of a shop stands for answers, and when it was said. Answers name these rows, so that a name can be erased.
CREATE TABLE "shop_signatures" (
  "id" UUID NOT NULL,
  "entry_id" UUID NOT NULL,
  "shop_link_id" UUID NOT NULL,
  "shop_name" TEXT NOT NULL,
  "name" TEXT NOT NULL,
  "signed_by" UUID NOT NULL,
  "signed_at" TIMESTAMPTZ(3) NOT NULL,
  "answers" JSONB NOT NULL,
  CONSTRAINT "shop_signatures_pkey" PRIMARY KEY ("id"),
  CONSTRAINT "shop_signatures_entry_id_fkey" FOREIGN KEY ("entry_id") REFERENCES "entries"("id") ON DELETE RESTRICT ON UPDATE CASCADE,
  CONSTRAINT "shop_signatures_shop_link_id_fkey" FOREIGN KEY ("shop_link_id") REFERENCES "shop_links"("id") ON DELETE RESTRICT ON UPDATE CASCADE
);
CREATE INDEX "shop_signatures_entry_id_idx" ON "shop_signatures"("entry_id");
CREATE INDEX "shop_signatures_shop_link_id_idx" ON "shop_signatures"("shop_link_id");

-- Which signature stands behind which answer, by its place; what is not named was said by the entrant.
ALTER TABLE "drafts" ADD COLUMN "said" JSONB NOT NULL DEFAULT '{}';
ALTER TABLE "inspections" ADD COLUMN "said" JSONB NOT NULL DEFAULT '{}';

ALTER TABLE "tokens" ADD COLUMN "shop_id" UUID;
ALTER TABLE "tokens" ADD CONSTRAINT "tokens_shop_id_fkey"
  FOREIGN KEY ("shop_id") REFERENCES "shops"("id") ON DELETE SET NULL ON UPDATE CASCADE;
CREATE INDEX "tokens_shop_id_idx" ON "tokens"("shop_id");
ALTER TABLE "tokens" DROP CONSTRAINT "tokens_role_check";
ALTER TABLE "tokens"
  ADD CONSTRAINT "tokens_role_check" CHECK ("role" IN ('organizer', 'chief', 'inspector', 'marshal', 'entrant', 'owner', 'shop')),
  ADD CONSTRAINT "tokens_shop_check" CHECK (("role" = 'shop') = ("shop_id" IS NOT NULL));
