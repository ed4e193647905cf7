-- CreateTable
CREATE TABLE "webhooks" (
    "id" UUID NOT NULL,
    "url" TEXT NOT NULL,
    "description" TEXT,
    "event_id" UUID,
    "types" TEXT[],
    "secrets" JSONB NOT NULL,
    "enabled" BOOLEAN NOT NULL DEFAULT true,
    "disabled_reason" TEXT,
    "disabled_at" TIMESTAMPTZ(3),
    "failures" INTEGER NOT NULL DEFAULT 0,
    "last_success_at" TIMESTAMPTZ(3),
    "paused_until" TIMESTAMPTZ(3),
    "busy_until" TIMESTAMPTZ(3),
    "wake_at" TIMESTAMPTZ(3),
    "rev" INTEGER NOT NULL DEFAULT 1,
    "created_by" UUID NOT NULL,
    "created_at" TIMESTAMPTZ(3) NOT NULL,

    CONSTRAINT "webhooks_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "webhook_deliveries" (
    "id" UUID NOT NULL,
    "webhook_id" UUID NOT NULL,
    "message_id" TEXT NOT NULL,
    "type" TEXT NOT NULL,
    "body" TEXT NOT NULL,
    "state" TEXT NOT NULL DEFAULT 'pending',
    "tries" INTEGER NOT NULL DEFAULT 0,
    "due_at" TIMESTAMPTZ(3) NOT NULL,
    "created_at" TIMESTAMPTZ(3) NOT NULL,
    "finished_at" TIMESTAMPTZ(3),
    "request_id" TEXT,

    CONSTRAINT "webhook_deliveries_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "webhook_attempts" (
    "delivery_id" UUID NOT NULL,
    "number" INTEGER NOT NULL,
    "started_at" TIMESTAMPTZ(3) NOT NULL,
    "duration_ms" INTEGER NOT NULL,
    "status" INTEGER,
    "answer" TEXT,
    "error" TEXT,

    CONSTRAINT "webhook_attempts_pkey" PRIMARY KEY ("delivery_id","number")
);

-- CreateIndex
CREATE INDEX "webhooks_event_id_idx" ON "webhooks"("event_id");

-- CreateIndex
CREATE INDEX "webhook_deliveries_webhook_id_id_idx" ON "webhook_deliveries"("webhook_id", "id");

-- CreateIndex
CREATE UNIQUE INDEX "webhook_deliveries_webhook_id_message_id_key" ON "webhook_deliveries"("webhook_id", "message_id");

-- AddForeignKey
ALTER TABLE "webhooks" ADD CONSTRAINT "webhooks_event_id_fkey" FOREIGN KEY ("event_id") REFERENCES "events"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "webhook_deliveries" ADD CONSTRAINT "webhook_deliveries_webhook_id_fkey" FOREIGN KEY ("webhook_id") REFERENCES "webhooks"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "webhook_attempts" ADD CONSTRAINT "webhook_attempts_delivery_id_fkey" FOREIGN KEY ("delivery_id") REFERENCES "webhook_deliveries"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- By hand from here: what Prisma's schema language cannot say.

ALTER TABLE "webhooks" ALTER COLUMN "types" SET NOT NULL;
ALTER TABLE "webhooks"
  ADD CONSTRAINT "webhooks_types_check" CHECK (cardinality("types") > 0),
  ADD CONSTRAINT "webhooks_secrets_check" CHECK (jsonb_typeof("secrets") = 'array' AND jsonb_array_length("secrets") > 0),
  ADD CONSTRAINT "webhooks_disabled_check" CHECK ("enabled" = ("disabled_at" IS NULL) AND "enabled" = ("disabled_reason" IS NULL));

ALTER TABLE "webhook_deliveries"
  ADD CONSTRAINT "webhook_deliveries_state_check" CHECK ("state" IN ('pending', 'delivered', 'failed', 'cancelled')),
  ADD CONSTRAINT "webhook_deliveries_finished_check" CHECK (("state" = 'pending') = ("finished_at" IS NULL)),
  ADD CONSTRAINT "webhook_deliveries_body_check" CHECK (octet_length("body") < 20000);
-- What is still to be sent, in its order; the rest of the table is never looked at for it.
CREATE INDEX "webhook_deliveries_due" ON "webhook_deliveries" ("webhook_id", "due_at", "id") WHERE "state" = 'pending';

ALTER TABLE "webhook_attempts" ADD CONSTRAINT "webhook_attempts_outcome_check" CHECK (("status" IS NULL) <> ("error" IS NULL));
