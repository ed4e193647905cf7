-- The trace (W3C Trace Context, `traceparent`) of the request that caused it. A transaction that belongs to a trace says so once, and
-- what it writes here takes it from there, also by the trigger. Null: nobody traces.
ALTER TABLE "outbox" ADD COLUMN "trace" TEXT DEFAULT NULLIF(current_setting('gridworthy.trace', true), '');
ALTER TABLE "unsealed_history" ADD COLUMN "trace" TEXT DEFAULT NULLIF(current_setting('gridworthy.trace', true), '');
ALTER TABLE "webhook_deliveries" ADD COLUMN "trace" TEXT DEFAULT NULLIF(current_setting('gridworthy.trace', true), '');
