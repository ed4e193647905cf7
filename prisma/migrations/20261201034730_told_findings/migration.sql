-- Of the findings of a declaration, a new row keeps those that count in "findings", a letter for each in "codes", what judged
-- it, and the SHA-256 of the canonical list of all: the rest follows from answers, car, context and rules, which it keeps.
-- A row from before has all three empty and its whole list in "findings".
ALTER TABLE "inspections"
  ADD COLUMN "codes" TEXT,
  ADD COLUMN "evaluator" TEXT,
  ADD COLUMN "findings_sha256" TEXT;
ALTER TABLE "inspections" ADD CONSTRAINT "inspections_told_check" CHECK (
  num_nulls("codes", "evaluator", "findings_sha256") IN (0, 3)
  AND ("findings_sha256" IS NULL OR "findings_sha256" ~ '^[0-9a-f]{64}$')
);

-- A decision keeps whole what it rests on, compressed: the lists of findings and the car as the line knew it. Its digest stands
-- in the sealed history. "findings" has those that count; a row from before has all there and the three columns empty.
ALTER TABLE "sign_offs"
  ADD COLUMN "evaluator" TEXT,
  ADD COLUMN "lists" BYTEA,
  ADD COLUMN "lists_sha256" TEXT;
ALTER TABLE "sign_offs" ALTER COLUMN "lists" SET STORAGE EXTERNAL;
ALTER TABLE "sign_offs" ADD CONSTRAINT "sign_offs_lists_check" CHECK (
  num_nulls("evaluator", "lists", "lists_sha256") IN (0, 3)
  AND ("lists_sha256" IS NULL OR "lists_sha256" ~ '^[0-9a-f]{64}$')
);
