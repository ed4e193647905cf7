-- AlterTable
ALTER TABLE "gate_checks" ADD COLUMN     "client_id" UUID,
ADD COLUMN     "contradicts" TEXT,
ADD COLUMN     "snapshot_seq" INTEGER,
ADD COLUMN     "uploaded_at" TIMESTAMPTZ(3);

-- CreateTable
CREATE TABLE "signing_keys" (
    "kid" TEXT NOT NULL,
    "private_jwk" JSONB NOT NULL,
    "public_jwk" JSONB NOT NULL,
    "created_at" TIMESTAMPTZ(3) NOT NULL,
    "retired_at" TIMESTAMPTZ(3),

    CONSTRAINT "signing_keys_pkey" PRIMARY KEY ("kid")
);

-- CreateTable
CREATE TABLE "enrolments" (
    "id" UUID NOT NULL,
    "code_hash" BYTEA NOT NULL,
    "role" TEXT NOT NULL,
    "holder" TEXT NOT NULL,
    "created_by" UUID NOT NULL,
    "created_at" TIMESTAMPTZ(3) NOT NULL,
    "expires_at" TIMESTAMPTZ(3) NOT NULL,
    "used_at" TIMESTAMPTZ(3),
    "token_id" UUID,

    CONSTRAINT "enrolments_pkey" PRIMARY KEY ("id")
);

-- CreateIndex
CREATE UNIQUE INDEX "enrolments_code_hash_key" ON "enrolments"("code_hash");

-- CreateIndex
CREATE UNIQUE INDEX "gate_checks_client_id_key" ON "gate_checks"("client_id");

-- By hand from here: what Prisma's schema language cannot say.

ALTER TABLE "enrolments"
  ADD CONSTRAINT "enrolments_role_check" CHECK ("role" IN ('organizer', 'chief', 'inspector', 'marshal')),
  ADD CONSTRAINT "enrolments_use_check" CHECK (("used_at" IS NULL) = ("token_id" IS NULL));
ALTER TABLE "gate_checks" ADD CONSTRAINT "gate_checks_upload_check" CHECK (("client_id" IS NULL) = ("uploaded_at" IS NULL));
