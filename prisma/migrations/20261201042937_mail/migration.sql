-- Messages to entrants: each as it was written, with what became of it. Text and address go with the person.
CREATE TABLE mails (
  id uuid PRIMARY KEY,
  event_id uuid NOT NULL REFERENCES events (id),
  entry_id uuid NOT NULL REFERENCES entries (id),
  kind text NOT NULL,
  -- makes what orders a message twice write it once
  dedupe_key text NOT NULL UNIQUE,
  language text NOT NULL,
  address text NOT NULL,
  subject text NOT NULL,
  text text NOT NULL,
  html text NOT NULL,
  state text NOT NULL CHECK (state IN ('waiting', 'sending', 'sent', 'kept', 'refused', 'failed', 'doubt', 'stopped')),
  -- what the server said last, or why there was no conversation
  reply text NOT NULL DEFAULT '',
  attempts integer NOT NULL DEFAULT 0,
  -- whoever has it may end the messages about this entry
  stop_key text NOT NULL UNIQUE,
  created_at timestamptz(3) NOT NULL,
  ended_at timestamptz(3)
);
CREATE INDEX mails_event ON mails (event_id, id);
CREATE INDEX mails_entry ON mails (entry_id, id);
CREATE INDEX mails_begun ON mails (ended_at) WHERE state IN ('sent', 'doubt');

-- Entries whose people want no more messages.
CREATE TABLE mail_stops (
  entry_id uuid PRIMARY KEY REFERENCES entries (id),
  stopped_at timestamptz(3) NOT NULL
);

-- Texts of an event that are otherwise than those that come with the server.
CREATE TABLE mail_templates (
  event_id uuid NOT NULL REFERENCES events (id),
  kind text NOT NULL,
  language text NOT NULL,
  subject text NOT NULL,
  text text NOT NULL,
  changed_by uuid NOT NULL,
  changed_name text NOT NULL,
  changed_at timestamptz(3) NOT NULL,
  PRIMARY KEY (event_id, kind, language)
);
