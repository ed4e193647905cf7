-- The organizer's own id of whoever holds a token of the staff, as entries name people by: it finds an interest in a car
-- whatever the names are.
ALTER TABLE "tokens" ADD COLUMN "person_id" TEXT;
ALTER TABLE "enrolments" ADD COLUMN "person_id" TEXT;
