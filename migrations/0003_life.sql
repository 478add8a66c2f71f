-- What fifteen years aboard ask of the store.

-- Drawn anew by each commit; before: what was drawn by the commit before it. Notes on the slate (the small file beside
-- this one that is written every few seconds) carry the mark of the last commit that is known to have succeeded, which is
-- the one before this where this one was refused and is on the card all the same. Any others are of an earlier commit,
-- and in here already.
CREATE TABLE slate_mark (
    one INTEGER PRIMARY KEY CHECK (one = 1),
    mark INTEGER NOT NULL,
    before INTEGER NOT NULL
) STRICT;
INSERT INTO slate_mark (one, mark, before) VALUES (1, random(), random());

-- What could not be read, byte for byte as it was found, and where it belonged. Nothing is removed from here.
CREATE TABLE set_aside (
    id INTEGER PRIMARY KEY,
    source TEXT NOT NULL CHECK (source IN ('chunk', 'minute_chunk', 'tail')),
    series INTEGER NOT NULL REFERENCES series (id),
    boot INTEGER NOT NULL REFERENCES boot (no),
    first_mono_ms INTEGER NOT NULL,
    last_mono_ms INTEGER,
    count INTEGER,
    cause TEXT NOT NULL,
    data BLOB
) STRICT;

-- Bytes that the daemon has handed to the card, by hours of a boot; the file system's own journal is not in it.
CREATE TABLE written (
    boot INTEGER NOT NULL REFERENCES boot (no),
    start_mono_ms INTEGER NOT NULL,
    bytes INTEGER NOT NULL,
    PRIMARY KEY (boot, start_mono_ms)
) STRICT, WITHOUT ROWID;

-- trust from here on: 0 not believed, 1 plausible, 2 set by hand, 3 synchronised (was 2).
UPDATE clock_fix SET trust = 3 WHERE trust = 2;

-- Chunks that were thinned in memory while the card took nothing: every so many of their samples were kept, out of this
-- many. Their summaries are of all that was taken.
CREATE TABLE thinned (
    chunk INTEGER PRIMARY KEY REFERENCES chunk (id),
    taken INTEGER NOT NULL
) STRICT;

-- Rows of hour_summary and day_summary, all channels of 192 hours or days of a boot in one, packed for charts. Made once
-- the last of them is over; where there is none, and in what an earlier layout has left, the rows are read.
CREATE TABLE summary_block (
    series INTEGER NOT NULL REFERENCES series (id),
    span_ms INTEGER NOT NULL,
    boot INTEGER NOT NULL REFERENCES boot (no),
    start_mono_ms INTEGER NOT NULL,
    data BLOB NOT NULL,
    PRIMARY KEY (series, span_ms, boot, start_mono_ms)
) STRICT, WITHOUT ROWID;

-- With all that tells which events lie in a span, so that years of them are not read for it.
DROP INDEX event_by_moment;
CREATE INDEX event_by_moment ON event (boot, last_mono_ms, first_mono_ms, bank);
