-- What people said of the columns and classes of lists they imported, to be offered with the next list. No values of cells.
CREATE TABLE list_words (
  kind text NOT NULL CHECK (kind IN ('column', 'group')),
  written text NOT NULL CHECK (written <> '' AND length(written) <= 120),
  means text,
  used_at timestamptz(3) NOT NULL,
  PRIMARY KEY (kind, written),
  CHECK (kind = 'column' OR means IS NOT NULL)
);
