-- When a run group is on track: a list of sessions, in order of time, of which the first starts at first_session_at.
-- Empty: no timetable is known but for that start.
ALTER TABLE "run_groups" ADD COLUMN "sessions" JSONB NOT NULL DEFAULT '[]';
ALTER TABLE "run_groups" ADD CONSTRAINT "run_groups_sessions" CHECK (jsonb_typeof("sessions") = 'array');
