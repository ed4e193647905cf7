-- CreateSchema
CREATE SCHEMA IF NOT EXISTS "public";

-- CreateTable
CREATE TABLE "tokens" (
    "id" UUID NOT NULL,
    "hash" BYTEA NOT NULL,
    "role" TEXT NOT NULL,
    "holder" TEXT NOT NULL,
    "holder_key" TEXT NOT NULL,
    "entry_id" UUID,
    "created_by" UUID,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "revoked_at" TIMESTAMPTZ(3),

    CONSTRAINT "tokens_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "venues" (
    "id" UUID NOT NULL,
    "name" TEXT NOT NULL,
    "time_zone" TEXT NOT NULL,
    "details" JSONB NOT NULL,
    "rev" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "venues_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "events" (
    "id" UUID NOT NULL,
    "venue_id" UUID NOT NULL,
    "name" TEXT NOT NULL,
    "starts_on" DATE NOT NULL,
    "ends_on" DATE NOT NULL,
    "declarations_open_at" TIMESTAMPTZ(3) NOT NULL,
    "declarations_close_at" TIMESTAMPTZ(3) NOT NULL,
    "rev" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "events_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "run_groups" (
    "id" UUID NOT NULL,
    "event_id" UUID NOT NULL,
    "name" TEXT NOT NULL,
    "sort_order" INTEGER NOT NULL,
    "first_session_at" TIMESTAMPTZ(3) NOT NULL,
    "rule_set_id" UUID NOT NULL,
    "rule_set_version" INTEGER NOT NULL,
    "parameters" JSONB NOT NULL,
    "rev" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "run_groups_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "rule_sets" (
    "id" UUID NOT NULL,
    "name" TEXT NOT NULL,
    "draft" JSONB NOT NULL,
    "rev" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "rule_sets_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "rule_set_versions" (
    "rule_set_id" UUID NOT NULL,
    "version" INTEGER NOT NULL,
    "document" JSONB NOT NULL,
    "content_hash" TEXT NOT NULL,
    "changelog" TEXT NOT NULL,
    "published_by" UUID NOT NULL,
    "published_name" TEXT NOT NULL,
    "published_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "rule_set_versions_pkey" PRIMARY KEY ("rule_set_id","version")
);

-- CreateTable
CREATE TABLE "vehicles" (
    "id" UUID NOT NULL,
    "record" JSONB NOT NULL,
    "rev" INTEGER NOT NULL DEFAULT 1,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "vehicles_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "entries" (
    "id" UUID NOT NULL,
    "event_id" UUID NOT NULL,
    "run_group_id" UUID NOT NULL,
    "vehicle_id" UUID NOT NULL,
    "car_number" TEXT NOT NULL,
    "entrant" JSONB NOT NULL,
    "people" JSONB NOT NULL,
    "person_keys" TEXT[],
    "rev" INTEGER NOT NULL DEFAULT 1,
    "created_by" UUID NOT NULL,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "entries_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "drafts" (
    "entry_id" UUID NOT NULL,
    "answers" JSONB NOT NULL,
    "rev" INTEGER NOT NULL DEFAULT 1,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_by" UUID NOT NULL,

    CONSTRAINT "drafts_pkey" PRIMARY KEY ("entry_id")
);

-- CreateTable
CREATE TABLE "inspections" (
    "id" UUID NOT NULL,
    "entry_id" UUID NOT NULL,
    "revision" INTEGER NOT NULL,
    "answers" JSONB NOT NULL,
    "vehicle" JSONB NOT NULL,
    "context" JSONB NOT NULL,
    "rule_set_id" UUID NOT NULL,
    "rule_set_version" INTEGER NOT NULL,
    "parameters" JSONB NOT NULL,
    "verdict" TEXT NOT NULL,
    "findings" JSONB NOT NULL,
    "submitted_by" UUID NOT NULL,
    "submitted_name" TEXT NOT NULL,
    "submitted_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "inspections_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "tickets" (
    "id" UUID NOT NULL,
    "event_id" UUID NOT NULL,
    "entry_id" UUID NOT NULL,
    "inspection_id" UUID NOT NULL,
    "state" TEXT NOT NULL DEFAULT 'waiting',
    "queued_at" TIMESTAMPTZ(3) NOT NULL,
    "closed_at" TIMESTAMPTZ(3),

    CONSTRAINT "tickets_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "claims" (
    "id" UUID NOT NULL,
    "ticket_id" UUID NOT NULL,
    "inspector_id" UUID NOT NULL,
    "inspector_name" TEXT NOT NULL,
    "lease_seconds" INTEGER NOT NULL,
    "claimed_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "expires_at" TIMESTAMPTZ(3) NOT NULL,
    "ended_at" TIMESTAMPTZ(3),
    "end_reason" TEXT,

    CONSTRAINT "claims_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "sign_offs" (
    "id" UUID NOT NULL,
    "event_id" UUID NOT NULL,
    "entry_id" UUID NOT NULL,
    "inspection_id" UUID NOT NULL,
    "claim_id" UUID NOT NULL,
    "decision" TEXT NOT NULL,
    "checks" JSONB NOT NULL,
    "findings" JSONB NOT NULL,
    "verdict" TEXT NOT NULL,
    "note" TEXT,
    "sticker_number" TEXT,
    "valid_from" TIMESTAMPTZ(3),
    "valid_until" TIMESTAMPTZ(3),
    "signed_by" UUID NOT NULL,
    "signed_name" TEXT NOT NULL,
    "signed_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "sign_offs_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "conditions" (
    "id" UUID NOT NULL,
    "entry_id" UUID NOT NULL,
    "sign_off_id" UUID NOT NULL,
    "text" TEXT NOT NULL,
    "due_at" TIMESTAMPTZ(3),
    "done_at" TIMESTAMPTZ(3),
    "done_by" UUID,
    "done_name" TEXT,
    "done_note" TEXT,

    CONSTRAINT "conditions_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "holds" (
    "id" UUID NOT NULL,
    "entry_id" UUID NOT NULL,
    "reason" TEXT NOT NULL,
    "placed_by" UUID NOT NULL,
    "placed_name" TEXT NOT NULL,
    "placed_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "lifted_by" UUID,
    "lifted_name" TEXT,
    "lifted_at" TIMESTAMPTZ(3),
    "lift_reason" TEXT,
    "requires_reinspection" BOOLEAN NOT NULL DEFAULT false,

    CONSTRAINT "holds_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "concessions" (
    "id" UUID NOT NULL,
    "entry_id" UUID NOT NULL,
    "rule_id" TEXT NOT NULL,
    "rule_set_id" UUID NOT NULL,
    "rule_set_version" INTEGER NOT NULL,
    "reason" TEXT NOT NULL,
    "expires_at" TIMESTAMPTZ(3) NOT NULL,
    "granted_by" UUID NOT NULL,
    "granted_name" TEXT NOT NULL,
    "granted_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "concessions_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "clearances" (
    "entry_id" UUID NOT NULL,
    "event_id" UUID NOT NULL,
    "car_number" TEXT NOT NULL,
    "facts" JSONB NOT NULL,
    "rev" BIGINT NOT NULL DEFAULT 1,
    "history_seq" INTEGER NOT NULL DEFAULT 0,
    "history_hash" TEXT NOT NULL DEFAULT '',
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "clearances_pkey" PRIMARY KEY ("entry_id")
);

-- CreateTable
CREATE TABLE "history" (
    "id" UUID NOT NULL,
    "entry_id" UUID NOT NULL,
    "seq" INTEGER NOT NULL,
    "action" TEXT NOT NULL,
    "actor_id" UUID NOT NULL,
    "actor_role" TEXT NOT NULL,
    "actor_name" TEXT NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL,
    "data" JSONB NOT NULL,
    "request_id" TEXT,
    "prev_hash" TEXT NOT NULL,
    "hash" TEXT NOT NULL,

    CONSTRAINT "history_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "outbox" (
    "id" UUID NOT NULL,
    "name" TEXT NOT NULL,
    "payload" JSONB NOT NULL,
    "run_at" TIMESTAMPTZ(3),
    "request_id" TEXT,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "published_at" TIMESTAMPTZ(3),
    "done_at" TIMESTAMPTZ(3),
    "attempts" INTEGER NOT NULL DEFAULT 0,
    "last_error" TEXT,

    CONSTRAINT "outbox_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "notifications" (
    "id" UUID NOT NULL,
    "dedupe_key" TEXT NOT NULL,
    "entry_id" UUID NOT NULL,
    "kind" TEXT NOT NULL,
    "transport" TEXT NOT NULL,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "sent_at" TIMESTAMPTZ(3),

    CONSTRAINT "notifications_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "idempotency" (
    "principal" UUID NOT NULL,
    "route" TEXT NOT NULL,
    "key" TEXT NOT NULL,
    "fingerprint" TEXT NOT NULL,
    "status" INTEGER,
    "headers" JSONB,
    "body" JSONB,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "expires_at" TIMESTAMPTZ(3) NOT NULL,

    CONSTRAINT "idempotency_pkey" PRIMARY KEY ("principal","route","key")
);

-- CreateTable
CREATE TABLE "gate_checks" (
    "id" UUID NOT NULL,
    "event_id" UUID NOT NULL,
    "car_number" TEXT NOT NULL,
    "run_group_id" UUID,
    "admit" BOOLEAN NOT NULL,
    "status" TEXT NOT NULL,
    "asked_by" UUID NOT NULL,
    "asked_name" TEXT NOT NULL,
    "asked_at" TIMESTAMPTZ(3) NOT NULL,

    CONSTRAINT "gate_checks_pkey" PRIMARY KEY ("id")
);

-- CreateIndex
CREATE UNIQUE INDEX "tokens_hash_key" ON "tokens"("hash");

-- CreateIndex
CREATE INDEX "tokens_entry_id_idx" ON "tokens"("entry_id");

-- CreateIndex
CREATE INDEX "events_venue_id_idx" ON "events"("venue_id");

-- CreateIndex
CREATE INDEX "run_groups_rule_set_id_rule_set_version_idx" ON "run_groups"("rule_set_id", "rule_set_version");

-- CreateIndex
CREATE UNIQUE INDEX "run_groups_event_id_name_key" ON "run_groups"("event_id", "name");

-- CreateIndex
CREATE INDEX "entries_event_id_car_number_idx" ON "entries"("event_id", "car_number");

-- CreateIndex
CREATE INDEX "entries_run_group_id_idx" ON "entries"("run_group_id");

-- CreateIndex
CREATE INDEX "entries_vehicle_id_idx" ON "entries"("vehicle_id");

-- CreateIndex
CREATE UNIQUE INDEX "entries_event_id_run_group_id_car_number_key" ON "entries"("event_id", "run_group_id", "car_number");

-- CreateIndex
CREATE UNIQUE INDEX "inspections_entry_id_revision_key" ON "inspections"("entry_id", "revision");

-- CreateIndex
CREATE INDEX "tickets_inspection_id_idx" ON "tickets"("inspection_id");

-- CreateIndex
CREATE INDEX "tickets_entry_id_idx" ON "tickets"("entry_id");

-- CreateIndex
CREATE INDEX "claims_ticket_id_idx" ON "claims"("ticket_id");

-- CreateIndex
CREATE UNIQUE INDEX "sign_offs_claim_id_key" ON "sign_offs"("claim_id");

-- CreateIndex
CREATE INDEX "sign_offs_inspection_id_idx" ON "sign_offs"("inspection_id");

-- CreateIndex
CREATE UNIQUE INDEX "sign_offs_event_id_sticker_number_key" ON "sign_offs"("event_id", "sticker_number");

-- CreateIndex
CREATE INDEX "conditions_entry_id_idx" ON "conditions"("entry_id");

-- CreateIndex
CREATE INDEX "conditions_sign_off_id_idx" ON "conditions"("sign_off_id");

-- CreateIndex
CREATE INDEX "holds_entry_id_idx" ON "holds"("entry_id");

-- CreateIndex
CREATE INDEX "concessions_entry_id_idx" ON "concessions"("entry_id");

-- CreateIndex
CREATE INDEX "clearances_event_id_car_number_idx" ON "clearances"("event_id", "car_number");

-- CreateIndex
CREATE UNIQUE INDEX "history_entry_id_seq_key" ON "history"("entry_id", "seq");

-- CreateIndex
CREATE UNIQUE INDEX "notifications_dedupe_key_key" ON "notifications"("dedupe_key");

-- CreateIndex
CREATE INDEX "notifications_entry_id_idx" ON "notifications"("entry_id");

-- CreateIndex
CREATE INDEX "idempotency_expires_at_idx" ON "idempotency"("expires_at");

-- CreateIndex
CREATE INDEX "gate_checks_event_id_asked_at_idx" ON "gate_checks"("event_id", "asked_at");

-- AddForeignKey
ALTER TABLE "tokens" ADD CONSTRAINT "tokens_entry_id_fkey" FOREIGN KEY ("entry_id") REFERENCES "entries"("id") ON DELETE SET NULL ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "events" ADD CONSTRAINT "events_venue_id_fkey" FOREIGN KEY ("venue_id") REFERENCES "venues"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "run_groups" ADD CONSTRAINT "run_groups_event_id_fkey" FOREIGN KEY ("event_id") REFERENCES "events"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "run_groups" ADD CONSTRAINT "run_groups_rule_set_id_rule_set_version_fkey" FOREIGN KEY ("rule_set_id", "rule_set_version") REFERENCES "rule_set_versions"("rule_set_id", "version") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "rule_set_versions" ADD CONSTRAINT "rule_set_versions_rule_set_id_fkey" FOREIGN KEY ("rule_set_id") REFERENCES "rule_sets"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "entries" ADD CONSTRAINT "entries_event_id_fkey" FOREIGN KEY ("event_id") REFERENCES "events"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "entries" ADD CONSTRAINT "entries_run_group_id_fkey" FOREIGN KEY ("run_group_id") REFERENCES "run_groups"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "entries" ADD CONSTRAINT "entries_vehicle_id_fkey" FOREIGN KEY ("vehicle_id") REFERENCES "vehicles"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "drafts" ADD CONSTRAINT "drafts_entry_id_fkey" FOREIGN KEY ("entry_id") REFERENCES "entries"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "inspections" ADD CONSTRAINT "inspections_entry_id_fkey" FOREIGN KEY ("entry_id") REFERENCES "entries"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "tickets" ADD CONSTRAINT "tickets_entry_id_fkey" FOREIGN KEY ("entry_id") REFERENCES "entries"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "tickets" ADD CONSTRAINT "tickets_inspection_id_fkey" FOREIGN KEY ("inspection_id") REFERENCES "inspections"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "claims" ADD CONSTRAINT "claims_ticket_id_fkey" FOREIGN KEY ("ticket_id") REFERENCES "tickets"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "sign_offs" ADD CONSTRAINT "sign_offs_inspection_id_fkey" FOREIGN KEY ("inspection_id") REFERENCES "inspections"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "sign_offs" ADD CONSTRAINT "sign_offs_claim_id_fkey" FOREIGN KEY ("claim_id") REFERENCES "claims"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "conditions" ADD CONSTRAINT "conditions_entry_id_fkey" FOREIGN KEY ("entry_id") REFERENCES "entries"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "conditions" ADD CONSTRAINT "conditions_sign_off_id_fkey" FOREIGN KEY ("sign_off_id") REFERENCES "sign_offs"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "holds" ADD CONSTRAINT "holds_entry_id_fkey" FOREIGN KEY ("entry_id") REFERENCES "entries"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "concessions" ADD CONSTRAINT "concessions_entry_id_fkey" FOREIGN KEY ("entry_id") REFERENCES "entries"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "clearances" ADD CONSTRAINT "clearances_entry_id_fkey" FOREIGN KEY ("entry_id") REFERENCES "entries"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "history" ADD CONSTRAINT "history_entry_id_fkey" FOREIGN KEY ("entry_id") REFERENCES "entries"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- From here on written by hand: closed sets, "only one" rules, immutability.

-- IDs are UUID v7 made by the service, so an index on them is also in order of time.
ALTER TABLE "tokens"
  ADD CONSTRAINT "tokens_role_check" CHECK ("role" IN ('organizer', 'chief', 'inspector', 'marshal', 'entrant')),
  ADD CONSTRAINT "tokens_entry_check" CHECK (("role" = 'entrant') = ("entry_id" IS NOT NULL)),
  ADD CONSTRAINT "tokens_hash_check" CHECK (octet_length("hash") = 32);

ALTER TABLE "events"
  ADD CONSTRAINT "events_days_check" CHECK ("starts_on" <= "ends_on"),
  ADD CONSTRAINT "events_window_check" CHECK ("declarations_open_at" < "declarations_close_at");

-- Car numbers are exact text: no folding, no collation surprises.
ALTER TABLE "entries" ADD CONSTRAINT "entries_car_number_check" CHECK ("car_number" ~ '^[0-9A-Za-z]{1,4}$');
ALTER TABLE "entries" ALTER COLUMN "car_number" TYPE TEXT COLLATE "C";
ALTER TABLE "clearances" ALTER COLUMN "car_number" TYPE TEXT COLLATE "C";

ALTER TABLE "inspections"
  ADD CONSTRAINT "inspections_verdict_check" CHECK ("verdict" IN ('barred', 'to-inspect', 'clean')),
  ADD CONSTRAINT "inspections_revision_check" CHECK ("revision" >= 1);

ALTER TABLE "tickets" ADD CONSTRAINT "tickets_state_check" CHECK ("state" IN ('waiting', 'claimed', 'done', 'void'));
CREATE UNIQUE INDEX "tickets_one_live_per_entry" ON "tickets" ("entry_id") WHERE "state" IN ('waiting', 'claimed');
CREATE INDEX "tickets_line_order" ON "tickets" ("event_id", "queued_at", "id")
  WHERE "state" IN ('waiting', 'claimed');

ALTER TABLE "claims"
  ADD CONSTRAINT "claims_end_reason_check" CHECK ("end_reason" IN ('signed-off', 'put-back', 'expired', 'void')),
  ADD CONSTRAINT "claims_end_check" CHECK (("ended_at" IS NULL) = ("end_reason" IS NULL));
CREATE UNIQUE INDEX "claims_one_open_per_ticket" ON "claims" ("ticket_id") WHERE "ended_at" IS NULL;

ALTER TABLE "sign_offs"
  ADD CONSTRAINT "sign_offs_decision_check" CHECK ("decision" IN ('accept', 'accept-with-conditions', 'refuse')),
  ADD CONSTRAINT "sign_offs_verdict_check" CHECK ("verdict" IN ('barred', 'to-inspect', 'clean')),
  ADD CONSTRAINT "sign_offs_validity_check"
  CHECK (("decision" = 'refuse') = ("valid_from" IS NULL) AND ("decision" = 'refuse') = ("valid_until" IS NULL));

ALTER TABLE "holds" ADD CONSTRAINT "holds_lift_check" CHECK (("lifted_at" IS NULL) = ("lifted_by" IS NULL));
CREATE INDEX "holds_standing" ON "holds" ("entry_id") WHERE "lifted_at" IS NULL;
ALTER TABLE "conditions" ADD CONSTRAINT "conditions_done_check" CHECK (("done_at" IS NULL) = ("done_by" IS NULL));
ALTER TABLE "history" ADD CONSTRAINT "history_seq_check" CHECK ("seq" >= 1);

CREATE INDEX "outbox_undone" ON "outbox" ("published_at") WHERE "done_at" IS NULL;
CREATE INDEX "outbox_unpublished" ON "outbox" ("created_at", "id") WHERE "published_at" IS NULL;

CREATE FUNCTION "refuse_change"() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  RAISE EXCEPTION '% is append-only: % refused', TG_TABLE_NAME, TG_OP USING ERRCODE = 'restrict_violation';
END $$;
CREATE TRIGGER "rule_set_versions_immutable" BEFORE UPDATE OR DELETE ON "rule_set_versions"
  FOR EACH ROW EXECUTE FUNCTION "refuse_change"();
CREATE TRIGGER "inspections_immutable" BEFORE UPDATE OR DELETE ON "inspections"
  FOR EACH ROW EXECUTE FUNCTION "refuse_change"();
CREATE TRIGGER "sign_offs_immutable" BEFORE UPDATE OR DELETE ON "sign_offs"
  FOR EACH ROW EXECUTE FUNCTION "refuse_change"();
CREATE TRIGGER "history_immutable" BEFORE UPDATE OR DELETE ON "history"
  FOR EACH ROW EXECUTE FUNCTION "refuse_change"();
