-- AlterTable
ALTER TABLE "concessions" ADD COLUMN     "approved_at" TIMESTAMPTZ(3),
ADD COLUMN     "approved_by" UUID,
ADD COLUMN     "approved_name" TEXT,
ADD COLUMN     "category" TEXT,
ADD COLUMN     "condition" TEXT,
ADD COLUMN     "covers_later_versions" BOOLEAN NOT NULL DEFAULT false,
ADD COLUMN     "needs_second_person" BOOLEAN NOT NULL DEFAULT false,
ADD COLUMN     "revoke_reason" TEXT,
ADD COLUMN     "revoked_at" TIMESTAMPTZ(3),
ADD COLUMN     "revoked_by" UUID,
ADD COLUMN     "revoked_name" TEXT;

-- AlterTable
ALTER TABLE "inspections" ADD COLUMN     "cause" TEXT NOT NULL DEFAULT 'submitted',
ADD COLUMN     "resolved_hash" TEXT;

-- AlterTable
ALTER TABLE "rule_sets" ADD COLUMN     "draft_text" TEXT;

-- AlterTable
ALTER TABLE "run_groups" ADD COLUMN     "overlay" JSONB NOT NULL DEFAULT '{}',
ADD COLUMN     "resolved_hash" TEXT;

-- CreateTable
CREATE TABLE "venue_overlays" (
    "venue_id" UUID NOT NULL,
    "rule_set_id" UUID NOT NULL,
    "overlay" JSONB NOT NULL,
    "rev" INTEGER NOT NULL DEFAULT 1,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "venue_overlays_pkey" PRIMARY KEY ("venue_id","rule_set_id")
);

-- CreateTable
CREATE TABLE "rule_set_retirements" (
    "rule_set_id" UUID NOT NULL,
    "version" INTEGER NOT NULL,
    "reason" TEXT NOT NULL,
    "retired_by" UUID NOT NULL,
    "retired_name" TEXT NOT NULL,
    "retired_at" TIMESTAMPTZ(3) NOT NULL,

    CONSTRAINT "rule_set_retirements_pkey" PRIMARY KEY ("rule_set_id","version")
);

-- CreateTable
CREATE TABLE "resolved_rules" (
    "hash" TEXT NOT NULL,
    "rule_set_id" UUID NOT NULL,
    "rule_set_version" INTEGER NOT NULL,
    "document" JSONB NOT NULL,
    "origins" JSONB NOT NULL,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "resolved_rules_pkey" PRIMARY KEY ("hash")
);

-- CreateTable
CREATE TABLE "tasks" (
    "id" UUID NOT NULL,
    "kind" TEXT NOT NULL,
    "subject_id" UUID NOT NULL,
    "request" JSONB NOT NULL,
    "state" TEXT NOT NULL DEFAULT 'waiting',
    "done" INTEGER NOT NULL DEFAULT 0,
    "total" INTEGER,
    "result" JSONB,
    "error" TEXT,
    "created_by" UUID NOT NULL,
    "created_role" TEXT NOT NULL,
    "created_name" TEXT NOT NULL,
    "created_at" TIMESTAMPTZ(3) NOT NULL,
    "started_at" TIMESTAMPTZ(3),
    "finished_at" TIMESTAMPTZ(3),

    CONSTRAINT "tasks_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "task_items" (
    "task_id" UUID NOT NULL,
    "item_id" UUID NOT NULL,
    "outcome" JSONB NOT NULL,

    CONSTRAINT "task_items_pkey" PRIMARY KEY ("task_id","item_id")
);

-- CreateIndex
CREATE INDEX "resolved_rules_rule_set_id_rule_set_version_idx" ON "resolved_rules"("rule_set_id", "rule_set_version");

-- CreateIndex
CREATE INDEX "tasks_subject_id_kind_idx" ON "tasks"("subject_id", "kind");

-- AddForeignKey
ALTER TABLE "run_groups" ADD CONSTRAINT "run_groups_resolved_hash_fkey" FOREIGN KEY ("resolved_hash") REFERENCES "resolved_rules"("hash") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "venue_overlays" ADD CONSTRAINT "venue_overlays_venue_id_fkey" FOREIGN KEY ("venue_id") REFERENCES "venues"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "venue_overlays" ADD CONSTRAINT "venue_overlays_rule_set_id_fkey" FOREIGN KEY ("rule_set_id") REFERENCES "rule_sets"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "rule_set_retirements" ADD CONSTRAINT "rule_set_retirements_rule_set_id_version_fkey" FOREIGN KEY ("rule_set_id", "version") REFERENCES "rule_set_versions"("rule_set_id", "version") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "resolved_rules" ADD CONSTRAINT "resolved_rules_rule_set_id_rule_set_version_fkey" FOREIGN KEY ("rule_set_id", "rule_set_version") REFERENCES "rule_set_versions"("rule_set_id", "version") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "inspections" ADD CONSTRAINT "inspections_resolved_hash_fkey" FOREIGN KEY ("resolved_hash") REFERENCES "resolved_rules"("hash") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "task_items" ADD CONSTRAINT "task_items_task_id_fkey" FOREIGN KEY ("task_id") REFERENCES "tasks"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- By hand from here: what Prisma's schema language cannot say.

ALTER TABLE "inspections" ADD CONSTRAINT "inspections_cause_check" CHECK ("cause" IN ('submitted', 'rejudged'));
ALTER TABLE "tasks"
  ADD CONSTRAINT "tasks_kind_check" CHECK ("kind" IN ('trial', 'rejudgement')),
  ADD CONSTRAINT "tasks_state_check" CHECK ("state" IN ('waiting', 'running', 'done', 'failed')),
  ADD CONSTRAINT "tasks_finish_check" CHECK (("state" IN ('done', 'failed')) = ("finished_at" IS NOT NULL));
ALTER TABLE "concessions"
  ADD CONSTRAINT "concessions_approval_check" CHECK (("approved_at" IS NULL) = ("approved_by" IS NULL)),
  ADD CONSTRAINT "concessions_revocation_check" CHECK (("revoked_at" IS NULL) = ("revoked_by" IS NULL)),
  ADD CONSTRAINT "concessions_second_person_check" CHECK ("approved_by" IS NULL OR "approved_by" <> "granted_by");

CREATE TRIGGER "rule_set_retirements_immutable" BEFORE UPDATE OR DELETE ON "rule_set_retirements"
  FOR EACH ROW EXECUTE FUNCTION "refuse_change"();
CREATE TRIGGER "resolved_rules_immutable" BEFORE UPDATE OR DELETE ON "resolved_rules"
  FOR EACH ROW EXECUTE FUNCTION "refuse_change"();
