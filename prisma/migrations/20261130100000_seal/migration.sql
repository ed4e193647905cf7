-- The chain of a history row is its subject's (an entry, a car in an event, or the event itself); the event is sealed
-- beside the writes into a Merkle tree (RFC 9162, section 2.1). Rows from before keep their links and are its first leaves.

DROP INDEX "history_event_id_event_seq_key";
ALTER TABLE "history"
  ALTER COLUMN "event_seq" DROP NOT NULL,
  ALTER COLUMN "event_hash" DROP NOT NULL,
  ALTER COLUMN "entry_id" DROP NOT NULL,
  ADD COLUMN "car_id" UUID;
ALTER TABLE "history" ADD CONSTRAINT "history_one_subject" CHECK (num_nonnulls("entry_id", "car_id") <= 1);
CREATE UNIQUE INDEX "history_event_id_event_seq_key" ON "history"("event_id", "event_seq") WHERE "event_seq" IS NOT NULL;
CREATE UNIQUE INDEX "history_car_id_seq_key" ON "history"("car_id", "seq");
CREATE UNIQUE INDEX "history_of_event_seq_key" ON "history"("event_id", "seq") WHERE "entry_id" IS NULL AND "car_id" IS NULL;
CREATE INDEX "history_event_id_idx" ON "history"("event_id");

-- No foreign keys: it is filled by the trigger below and emptied by the sealer, in the hot path of every write.
CREATE TABLE "unsealed_history" (
    "history_id" UUID NOT NULL,
    "event_id" UUID NOT NULL,
    "seq" INTEGER NOT NULL,

    CONSTRAINT "unsealed_history_pkey" PRIMARY KEY ("history_id")
);
CREATE INDEX "unsealed_history_event_id_seq_history_id_idx" ON "unsealed_history"("event_id", "seq", "history_id");

CREATE TABLE "event_leaves" (
    "event_id" UUID NOT NULL,
    "index" INTEGER NOT NULL,
    "history_id" UUID NOT NULL,
    "leaf_hash" BYTEA NOT NULL,

    CONSTRAINT "event_leaves_pkey" PRIMARY KEY ("event_id", "index")
);
CREATE UNIQUE INDEX "event_leaves_history_id_key" ON "event_leaves"("history_id");
ALTER TABLE "event_leaves" ADD CONSTRAINT "event_leaves_history_id_fkey" FOREIGN KEY ("history_id") REFERENCES "history"("id") ON DELETE RESTRICT ON UPDATE CASCADE;
ALTER TABLE "event_leaves"
  ADD CONSTRAINT "event_leaves_index_check" CHECK ("index" >= 0),
  ADD CONSTRAINT "event_leaves_leaf_hash_check" CHECK (octet_length("leaf_hash") = 32);

CREATE TABLE "event_trees" (
    "event_id" UUID NOT NULL,
    "size" INTEGER NOT NULL,
    "frontier" BYTEA[],
    "root" BYTEA NOT NULL,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "event_trees_pkey" PRIMARY KEY ("event_id")
);
ALTER TABLE "event_trees" ADD CONSTRAINT "event_trees_event_id_fkey" FOREIGN KEY ("event_id") REFERENCES "events"("id") ON DELETE RESTRICT ON UPDATE CASCADE;
ALTER TABLE "event_trees"
  ADD CONSTRAINT "event_trees_size_check" CHECK ("size" >= 1),
  ADD CONSTRAINT "event_trees_root_check" CHECK (octet_length("root") = 32);

CREATE TABLE "event_heads" (
    "event_id" UUID NOT NULL,
    "size" INTEGER NOT NULL,
    "root" BYTEA NOT NULL,
    "kid" TEXT NOT NULL,
    "jws" TEXT NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL,

    CONSTRAINT "event_heads_pkey" PRIMARY KEY ("event_id", "size")
);
CREATE INDEX "event_heads_kid_idx" ON "event_heads"("kid");
ALTER TABLE "event_heads" ADD CONSTRAINT "event_heads_event_id_fkey" FOREIGN KEY ("event_id") REFERENCES "events"("id") ON DELETE RESTRICT ON UPDATE CASCADE;
ALTER TABLE "event_heads" ADD CONSTRAINT "event_heads_kid_fkey" FOREIGN KEY ("kid") REFERENCES "signing_keys"("kid") ON DELETE RESTRICT ON UPDATE CASCADE;

-- Rows from before: the leaves are in the order of the chain, and the hash of a leaf covers the row's own hash.
INSERT INTO "event_leaves" ("event_id", "index", "history_id", "leaf_hash")
  SELECT "event_id", "event_seq" - 1, "id", sha256('\x00'::bytea || decode("hash", 'hex')) FROM "history";

-- The frontier: hashes of the full subtrees, largest first, one per set bit of the size.
DO $$
DECLARE
  tree RECORD;
  leaf RECORD;
  frontier BYTEA[];
  node BYTEA;
  carry INTEGER;
BEGIN
  FOR tree IN SELECT "event_id", count(*)::int AS "size" FROM "event_leaves" GROUP BY "event_id" LOOP
    frontier := '{}';
    FOR leaf IN SELECT "index", "leaf_hash" FROM "event_leaves" WHERE "event_id" = tree."event_id" ORDER BY "index" LOOP
      node := leaf."leaf_hash";
      carry := leaf."index";
      WHILE carry % 2 = 1 LOOP
        node := sha256('\x01'::bytea || frontier[cardinality(frontier)] || node);
        frontier := frontier[1:cardinality(frontier) - 1];
        carry := carry / 2;
      END LOOP;
      frontier := array_append(frontier, node);
    END LOOP;
    node := frontier[cardinality(frontier)];
    FOR place IN REVERSE cardinality(frontier) - 1 .. 1 LOOP
      node := sha256('\x01'::bytea || frontier[place] || node);
    END LOOP;
    INSERT INTO "event_trees" ("event_id", "size", "frontier", "root") VALUES (tree."event_id", tree."size", frontier, node);
  END LOOP;
END $$;

-- After the rows from before were sealed: from here on every new row waits for the sealer.
CREATE FUNCTION "queue_for_seal"() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  INSERT INTO "unsealed_history" ("history_id", "event_id", "seq") SELECT "id", "event_id", "seq" FROM "written";
  RETURN NULL;
END $$;
CREATE TRIGGER "history_unsealed" AFTER INSERT ON "history" REFERENCING NEW TABLE AS "written"
  FOR EACH STATEMENT EXECUTE FUNCTION "queue_for_seal"();

CREATE TRIGGER "event_leaves_immutable" BEFORE UPDATE OR DELETE ON "event_leaves"
  FOR EACH ROW EXECUTE FUNCTION "refuse_change"();
CREATE TRIGGER "event_heads_immutable" BEFORE UPDATE OR DELETE ON "event_heads"
  FOR EACH ROW EXECUTE FUNCTION "refuse_change"();
