-- The health record: passages, what years of use tell, capacity tests.

-- For people. They come before the tables that they show: where the first table that SQLite meets in its schema is a view,
-- and one that is made late is met first, its own check leaves out the map of the pages (`verify`'s tests notice).
CREATE VIEW passages AS
SELECT p.id, p.bank,
    strftime('%Y-%m-%dT%H:%M:%SZ', (p.mono_ms + b.offset_ms) / 1000.0, 'unixepoch') AS begin_utc,
    strftime('%Y-%m-%dT%H:%M:%SZ', (p.end_mono_ms + e.offset_ms) / 1000.0, 'unixepoch') AS end_utc,
    p.origin, p.name, p.note,
    p.summary ->> '$.charge_out_ah' AS charge_out_ah, p.summary ->> '$.charge_in_ah' AS charge_in_ah,
    p.summary ->> '$.energy_out_wh' AS energy_out_wh, p.summary ->> '$.energy_in_wh' AS energy_in_wh,
    p.summary ->> '$.soc_lowest.soc' AS soc_lowest, p.summary ->> '$.soc_end.soc' AS soc_end,
    p.summary ->> '$.mean_load_a' AS mean_load_a, p.summary ->> '$.below_reserve_s' AS below_reserve_s
FROM passage p
LEFT JOIN boot_utc b ON b.boot = p.boot
LEFT JOIN boot_utc e ON e.boot = p.end_boot
WHERE p.removed = 0;

CREATE VIEW capacity_findings AS
SELECT f.bank, strftime('%Y-%m-%dT%H:%M:%SZ', (f.end_mono_ms + u.offset_ms) / 1000.0, 'unixepoch') AS utc,
    f.body ->> '$.watched' AS watched, f.body ->> '$.charge_ah' AS charge_ah,
    f.body ->> '$.raw_ah.value' AS raw_ah, f.body ->> '$.raw_ah.std_dev' AS raw_std_dev_ah,
    f.body ->> '$.rated_ah.value' AS rated_ah, f.body ->> '$.rated_ah.std_dev' AS rated_std_dev_ah,
    f.body ->> '$.combined_ah.value' AS combined_ah, f.body ->> '$.combined_ah.std_dev' AS combined_std_dev_ah,
    f.body ->> '$.load_a' AS load_a, f.body ->> '$.temperature_c' AS temperature_c, f.body ->> '$.law' AS law,
    f.body ->> '$.believed' AS believed
FROM finding f LEFT JOIN boot_utc u ON u.boot = f.end_boot
WHERE f.kind = 'capacity';

CREATE VIEW resistances AS
SELECT f.bank, strftime('%Y-%m-%dT%H:%M:%SZ', (f.mono_ms + u.offset_ms) / 1000.0, 'unixepoch') AS day_utc,
    f.body ->> '$.reach' AS reach, f.body ->> '$.monobloc' AS monobloc, f.body ->> '$.steps' AS steps,
    f.body ->> '$.ohm.value' AS resistance_ohm, f.body ->> '$.normal_ohm.value' AS normal_resistance_ohm
FROM finding f LEFT JOIN boot_utc u ON u.boot = f.boot
WHERE f.kind = 'resistance';

CREATE VIEW balances AS
SELECT f.bank, strftime('%Y-%m-%dT%H:%M:%SZ', (f.mono_ms + u.offset_ms) / 1000.0, 'unixepoch') AS day_utc,
    f.body ->> '$.state' AS state, f.body ->> '$.monobloc' AS monobloc, f.body ->> '$.deviation_v' AS deviation_v,
    f.body ->> '$.minutes' AS minutes
FROM finding f LEFT JOIN boot_utc u ON u.boot = f.boot
WHERE f.kind = 'balance';

CREATE VIEW use_days AS
SELECT f.bank, strftime('%Y-%m-%dT%H:%M:%SZ', (f.mono_ms + u.offset_ms) / 1000.0, 'unixepoch') AS day_utc,
    f.body ->> '$.covered_s' AS covered_s, f.body ->> '$.charge_in_ah' AS charge_in_ah,
    f.body ->> '$.charge_out_ah' AS charge_out_ah, f.body ->> '$.energy_in_wh' AS energy_in_wh,
    f.body ->> '$.energy_out_wh' AS energy_out_wh, f.body ->> '$.lowest_soc' AS lowest_soc,
    f.body ->> '$.highest_soc' AS highest_soc, f.body ->> '$.temperature_c' AS temperature_c,
    f.body ->> '$.full_s' AS full_s, f.body ->> '$.standing_a.value' AS standing_a,
    f.body ->> '$.unaccounted_a.value' AS unaccounted_a
FROM finding f LEFT JOIN boot_utc u ON u.boot = f.boot
WHERE f.kind = 'use';

CREATE VIEW cycles AS
SELECT f.bank, strftime('%Y-%m-%dT%H:%M:%SZ', (f.mono_ms + b.offset_ms) / 1000.0, 'unixepoch') AS begin_utc,
    strftime('%Y-%m-%dT%H:%M:%SZ', (f.end_mono_ms + e.offset_ms) / 1000.0, 'unixepoch') AS end_utc,
    f.body ->> '$.range' AS range, f.body ->> '$.mean' AS mean, f.body ->> '$.count' AS count
FROM finding f LEFT JOIN boot_utc b ON b.boot = f.boot LEFT JOIN boot_utc e ON e.boot = f.end_boot
WHERE f.kind = 'cycle';

CREATE VIEW capacity_tests AS
SELECT t.id, t.bank, strftime('%Y-%m-%dT%H:%M:%SZ', (t.mono_ms + u.offset_ms) / 1000.0, 'unixepoch') AS start_utc,
    t.state, t.body ->> '$.result.time_adjusted' AS time_adjusted, t.body ->> '$.result.rate_adjusted' AS rate_adjusted,
    t.body ->> '$.result.charge_ah' AS charge_ah
FROM capacity_test t LEFT JOIN boot_utc u ON u.boot = t.boot;

-- origin: found in the data, or marked by hand; a found one that a hand has touched (name, note, ends) counts as marked and
-- is never changed by what is found later. removed: somebody says that it is none; it is not found again.
-- end_*: NULL while it goes on. summary: JSON, see src/passage/record.rs; NULL until worked out. settled: 1 once the
-- reconciled history reaches over all of it, so that the summary stays.
CREATE TABLE passage (
    id INTEGER PRIMARY KEY,
    bank TEXT NOT NULL,
    boot INTEGER NOT NULL REFERENCES boot (no),
    mono_ms INTEGER NOT NULL,
    end_boot INTEGER REFERENCES boot (no),
    end_mono_ms INTEGER,
    origin TEXT NOT NULL CHECK (origin IN ('found', 'hand')),
    removed INTEGER NOT NULL DEFAULT 0 CHECK (removed IN (0, 1)),
    name TEXT NOT NULL DEFAULT '',
    note TEXT NOT NULL DEFAULT '',
    summary TEXT,
    settled INTEGER NOT NULL DEFAULT 0 CHECK (settled IN (0, 1))
) STRICT;
CREATE INDEX passage_by_bank ON passage (bank, boot, mono_ms);

-- What is found and kept, as JSON, see src/health/record.rs. kind: capacity, resistance, balance, loop, use, cycle.
-- A day lies at its first moment.
CREATE TABLE finding (
    id INTEGER PRIMARY KEY,
    bank TEXT NOT NULL,
    kind TEXT NOT NULL,
    boot INTEGER NOT NULL REFERENCES boot (no),
    mono_ms INTEGER NOT NULL,
    end_boot INTEGER NOT NULL REFERENCES boot (no),
    end_mono_ms INTEGER NOT NULL,
    body TEXT NOT NULL
) STRICT;
CREATE INDEX finding_by_kind ON finding (bank, kind, id);

-- Up to which moment a bank's samples have been looked at, and what is to be known to go on from there. Gone where the
-- bank's results were made anew: then all is looked at again.
CREATE TABLE survey (
    bank TEXT PRIMARY KEY,
    boot INTEGER NOT NULL REFERENCES boot (no),
    mono_ms INTEGER NOT NULL,
    version INTEGER NOT NULL,
    state TEXT NOT NULL
) STRICT;

-- Capacity tests that somebody has started. state: running, ended (at the cut-off), stopped (by hand), broken (the load,
-- the samples or the clock did not hold). body: JSON, see src/health/test.
CREATE TABLE capacity_test (
    id INTEGER PRIMARY KEY,
    bank TEXT NOT NULL,
    boot INTEGER NOT NULL REFERENCES boot (no),
    mono_ms INTEGER NOT NULL,
    state TEXT NOT NULL CHECK (state IN ('running', 'ended', 'stopped', 'broken')),
    body TEXT NOT NULL
) STRICT;
CREATE INDEX capacity_test_by_bank ON capacity_test (bank, id);
