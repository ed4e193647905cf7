-- What the organizer decides about numbers that look alike, per event.
ALTER TABLE events
  ADD COLUMN look_alikes text NOT NULL DEFAULT 'warn' CHECK (look_alikes IN ('warn', 'refuse')),
  ADD COLUMN zero_twins text NOT NULL DEFAULT 'refuse' CHECK (zero_twins IN ('refuse', 'allow'));

-- An event that has such numbers already goes on with them.
UPDATE events SET zero_twins = 'allow'
WHERE id IN (
  SELECT event_id FROM entries
  GROUP BY event_id, lower(coalesce(nullif(ltrim(car_number, '0'), ''), '0'))
  HAVING count(DISTINCT lower(car_number)) > 1
);

-- The same for all numbers that can be taken for each other, and for a few that cannot: its characters in one order,
-- without zeros, letters as the digits they read as, 9 as 6. Who looks by it looks closer afterwards.
CREATE FUNCTION look_key(car_number text) RETURNS text
  LANGUAGE sql IMMUTABLE STRICT PARALLEL SAFE
  AS $$
    SELECT coalesce(string_agg(c, '' ORDER BY c COLLATE "C"), '')
    FROM regexp_split_to_table(translate(lower(car_number COLLATE "C"), 'oilbs9', '011856'), '') AS c
    WHERE c <> '0'
  $$;

-- The gate names look-alikes in the statement that answers.
CREATE INDEX clearances_event_id_look_key ON clearances (event_id, look_key(car_number));

-- The ids of the people of an entry in a list of the organizer's own: what is said of a person is found by them.
ALTER TABLE entries ADD COLUMN person_ids text[] NOT NULL DEFAULT '{}';
CREATE INDEX entries_person_ids ON entries USING gin (person_ids);
