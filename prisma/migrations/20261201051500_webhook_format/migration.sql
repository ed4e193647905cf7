-- How messages to a webhook are written. It is chosen once: what waits to be sent is kept as it will be sent.
ALTER TABLE "webhooks" ADD COLUMN "format" TEXT NOT NULL DEFAULT 'plain'
  CONSTRAINT "webhooks_format_check" CHECK ("format" IN ('plain', 'cloudevents'));
