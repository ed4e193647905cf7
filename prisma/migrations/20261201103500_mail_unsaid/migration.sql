-- What the clock wanted told of an entry when there was nothing to tell: it is not looked at again.
CREATE TABLE mail_unsaid (
  dedupe_key text PRIMARY KEY,
  entry_id uuid NOT NULL REFERENCES entries (id),
  found_at timestamptz(3) NOT NULL
);
CREATE INDEX mail_unsaid_entry ON mail_unsaid (entry_id);
