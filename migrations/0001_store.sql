-- The store's first layout. Times are milliseconds; *_mono_ms count from the start of a boot (suspend included),
-- utc_ms from 1970-01-01T00:00:00Z. Positive current and power charge the bank.

CREATE TABLE boot (
    no INTEGER PRIMARY KEY,
    boot_id TEXT NOT NULL UNIQUE,
    kind TEXT NOT NULL CHECK (kind IN ('live', 'import'))
) STRICT;

-- trust: 0 not believed, 1 plausible, 2 synchronised. kind: why it was noted (first, step, drift, hand ...).
CREATE TABLE clock_fix (
    id INTEGER PRIMARY KEY,
    boot INTEGER NOT NULL REFERENCES boot (no),
    mono_ms INTEGER NOT NULL,
    utc_ms INTEGER NOT NULL,
    trust INTEGER NOT NULL,
    kind TEXT NOT NULL
) STRICT;

-- gap_ms: samples further apart than this have a gap between them, over which nothing is integrated.
CREATE TABLE series (
    id INTEGER PRIMARY KEY,
    bank TEXT NOT NULL,
    name TEXT NOT NULL,
    kind TEXT NOT NULL CHECK (kind IN ('device', 'reckoning')),
    gap_ms INTEGER NOT NULL,
    UNIQUE (bank, name)
) STRICT;

-- Positions from 1000 on are derived: not stored sample by sample, only summarised (1000 is power_w, which a stored
-- channel of that name hides).
CREATE TABLE channel (
    series INTEGER NOT NULL REFERENCES series (id),
    position INTEGER NOT NULL,
    name TEXT NOT NULL,
    PRIMARY KEY (series, position)
) STRICT, WITHOUT ROWID;

-- Every sample of a closed stretch, about an hour, compressed; the layout of data is told in src/store/codec.
-- Kept as a rowid table: a row of more than a quarter of a page has its bytes in pages of their own.
CREATE TABLE chunk (
    id INTEGER PRIMARY KEY,
    series INTEGER NOT NULL REFERENCES series (id),
    boot INTEGER NOT NULL REFERENCES boot (no),
    first_mono_ms INTEGER NOT NULL,
    last_mono_ms INTEGER NOT NULL,
    count INTEGER NOT NULL,
    data BLOB NOT NULL,
    UNIQUE (series, boot, first_mono_ms)
) STRICT;

-- The open tail: one row per commit, until its stretch is folded into a chunk.
CREATE TABLE tail (
    series INTEGER NOT NULL REFERENCES series (id),
    boot INTEGER NOT NULL REFERENCES boot (no),
    first_mono_ms INTEGER NOT NULL,
    count INTEGER NOT NULL,
    data BLOB NOT NULL,
    PRIMARY KEY (series, boot, first_mono_ms)
) STRICT, WITHOUT ROWID;

-- Minute summaries of the chunk with the same id, compressed; none where they would hardly be fewer than the samples.
CREATE TABLE minute_chunk (
    id INTEGER PRIMARY KEY REFERENCES chunk (id),
    data BLOB NOT NULL
) STRICT;

-- From when to when the chunks of a series reach in each boot.
CREATE TABLE span (
    series INTEGER NOT NULL REFERENCES series (id),
    boot INTEGER NOT NULL REFERENCES boot (no),
    first_mono_ms INTEGER NOT NULL,
    last_mono_ms INTEGER NOT NULL,
    count INTEGER NOT NULL,
    PRIMARY KEY (series, boot)
) STRICT, WITHOUT ROWID;

-- Hours and days count from the start of the boot. positive and negative are integrals of the part above and below
-- zero, in unit seconds, for currents and powers. The interval between two samples belongs to the later one.
CREATE TABLE hour_summary (
    series INTEGER NOT NULL REFERENCES series (id),
    channel INTEGER NOT NULL,
    boot INTEGER NOT NULL REFERENCES boot (no),
    start_mono_ms INTEGER NOT NULL,
    count INTEGER NOT NULL,
    covered_s REAL NOT NULL,
    min REAL NOT NULL,
    max REAL NOT NULL,
    mean REAL NOT NULL,
    positive REAL,
    negative REAL,
    PRIMARY KEY (series, channel, boot, start_mono_ms)
) STRICT, WITHOUT ROWID;

CREATE TABLE day_summary (
    series INTEGER NOT NULL REFERENCES series (id),
    channel INTEGER NOT NULL,
    boot INTEGER NOT NULL REFERENCES boot (no),
    start_mono_ms INTEGER NOT NULL,
    count INTEGER NOT NULL,
    covered_s REAL NOT NULL,
    min REAL NOT NULL,
    max REAL NOT NULL,
    mean REAL NOT NULL,
    positive REAL,
    negative REAL,
    PRIMARY KEY (series, channel, boot, start_mono_ms)
) STRICT, WITHOUT ROWID;

-- Corrections of the reckoning: state of charge before and after, each with its band.
CREATE TABLE fix (
    id INTEGER PRIMARY KEY,
    bank TEXT NOT NULL,
    boot INTEGER NOT NULL REFERENCES boot (no),
    mono_ms INTEGER NOT NULL,
    kind TEXT NOT NULL,
    soc_before REAL,
    soc_before_low REAL,
    soc_before_high REAL,
    soc_after REAL NOT NULL,
    soc_after_low REAL NOT NULL,
    soc_after_high REAL NOT NULL,
    text TEXT NOT NULL
) STRICT;
CREATE INDEX fix_by_moment ON fix (bank, boot, mono_ms);

-- A repeated event moves last_mono_ms and count.
CREATE TABLE event (
    id INTEGER PRIMARY KEY,
    boot INTEGER NOT NULL REFERENCES boot (no),
    first_mono_ms INTEGER NOT NULL,
    last_mono_ms INTEGER NOT NULL,
    bank TEXT,
    device TEXT,
    kind TEXT NOT NULL,
    priority TEXT NOT NULL,
    text TEXT NOT NULL,
    count INTEGER NOT NULL
) STRICT;
CREATE INDEX event_by_moment ON event (boot, last_mono_ms);

-- The latest state of the reckoning of each bank, as JSON, written with the samples that it has seen.
CREATE TABLE checkpoint (
    bank TEXT PRIMARY KEY,
    boot INTEGER NOT NULL REFERENCES boot (no),
    mono_ms INTEGER NOT NULL,
    version INTEGER NOT NULL,
    state TEXT NOT NULL
) STRICT;

-- For people. UTC of each boot by its last most-believed clock fix; exact where the clock was not stepped meanwhile.
CREATE VIEW boot_utc AS
SELECT boot, utc_ms - mono_ms AS offset_ms, trust
FROM (
    SELECT *, row_number() OVER (PARTITION BY boot ORDER BY trust DESC, mono_ms DESC, id DESC) AS rank
    FROM clock_fix
)
WHERE rank = 1;

CREATE VIEW hours AS
SELECT s.bank, s.name AS series, c.name AS channel,
    strftime('%Y-%m-%dT%H:%M:%fZ', (h.start_mono_ms + u.offset_ms) / 1000.0, 'unixepoch') AS start_utc,
    h.count, h.covered_s, h.min, h.mean, h.max,
    h.positive / 3600.0 AS positive_unit_hours, h.negative / 3600.0 AS negative_unit_hours
FROM hour_summary h
JOIN series s ON s.id = h.series
JOIN channel c ON c.series = h.series AND c.position = h.channel
LEFT JOIN boot_utc u ON u.boot = h.boot;

CREATE VIEW fixes AS
SELECT f.bank, strftime('%Y-%m-%dT%H:%M:%fZ', (f.mono_ms + u.offset_ms) / 1000.0, 'unixepoch') AS utc,
    f.kind, f.soc_before, f.soc_before_low, f.soc_before_high,
    f.soc_after, f.soc_after_low, f.soc_after_high, f.text
FROM fix f LEFT JOIN boot_utc u ON u.boot = f.boot;

CREATE VIEW events AS
SELECT strftime('%Y-%m-%dT%H:%M:%fZ', (e.first_mono_ms + u.offset_ms) / 1000.0, 'unixepoch') AS first_utc,
    strftime('%Y-%m-%dT%H:%M:%fZ', (e.last_mono_ms + u.offset_ms) / 1000.0, 'unixepoch') AS last_utc,
    e.bank, e.device, e.kind, e.priority, e.count, e.text
FROM event e LEFT JOIN boot_utc u ON u.boot = e.boot;
