-- One sticker is one, however many zeros or small letters it is written with.

-- AlterTable
ALTER TABLE "sign_offs" ADD COLUMN     "sticker_key" TEXT;

-- By hand from here.

-- The form that is unique: capitals, and each number in it without zeros before it.
CREATE FUNCTION "sticker_key_of"(sticker TEXT) RETURNS TEXT LANGUAGE sql IMMUTABLE
  RETURN regexp_replace(upper(sticker), '(^|[^0-9])0+(?=[0-9])', '\1', 'g');

CREATE FUNCTION "set_sticker_key"() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  NEW."sticker_key" := COALESCE(NEW."sticker_key", "sticker_key_of"(NEW."sticker_number"));
  RETURN NEW;
END $$;

-- What stands stays as it is: of stickers from before that are one by now, the first keeps new ones away, and the others
-- get a form of their own, which a restored backup keeps.
ALTER TABLE "sign_offs" DISABLE TRIGGER "sign_offs_immutable";
UPDATE "sign_offs" s SET "sticker_key" = f."key" || CASE WHEN f."place" = 1 THEN '' ELSE ' ' || s."id" END FROM (
  SELECT "id", "sticker_key_of"("sticker_number") AS "key",
    row_number() OVER (PARTITION BY "event_id", "sticker_key_of"("sticker_number") ORDER BY "id") AS "place"
  FROM "sign_offs" WHERE "sticker_number" IS NOT NULL
) f WHERE s."id" = f."id";
ALTER TABLE "sign_offs" ENABLE TRIGGER "sign_offs_immutable";

CREATE TRIGGER "sign_offs_sticker_key" BEFORE INSERT ON "sign_offs" FOR EACH ROW EXECUTE FUNCTION "set_sticker_key"();

-- CreateIndex
CREATE UNIQUE INDEX "sign_offs_event_id_sticker_key_key" ON "sign_offs"("event_id", "sticker_key");
