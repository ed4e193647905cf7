-- An import of many rows is a task: its rows wait here, each until it is decided.

-- CreateTable
CREATE TABLE "import_rows" (
    "task_id" UUID NOT NULL,
    "place" INTEGER NOT NULL,
    "row" INTEGER NOT NULL,
    "run_group_id" UUID,
    "car_number" TEXT NOT NULL,
    "data" JSONB,
    "outcome" JSONB,

    CONSTRAINT "import_rows_pkey" PRIMARY KEY ("task_id","place")
);

-- AddForeignKey
ALTER TABLE "import_rows" ADD CONSTRAINT "import_rows_task_id_fkey" FOREIGN KEY ("task_id") REFERENCES "tasks"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- By hand from here: what Prisma's schema language cannot say.

ALTER TABLE "tasks" DROP CONSTRAINT "tasks_kind_check";
ALTER TABLE "tasks" ADD CONSTRAINT "tasks_kind_check" CHECK ("kind" IN ('trial', 'rejudgement', 'import'));
-- What a row says of people is kept no longer than it is needed.
ALTER TABLE "import_rows" ADD CONSTRAINT "import_rows_decided_check" CHECK (("data" IS NULL) = ("outcome" IS NOT NULL));
CREATE INDEX "import_rows_open" ON "import_rows" ("task_id", "place") WHERE "outcome" IS NULL;
CREATE INDEX "import_rows_open_number" ON "import_rows" ("car_number") WHERE "data" IS NOT NULL;
CREATE INDEX "tasks_import_created" ON "tasks" ("created_at") WHERE "kind" = 'import';
