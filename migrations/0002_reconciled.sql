-- Where a run of the reckoning begins: its state when it began, and just after each fix. Once the run that ends at the
-- next anchor is reconciled, the earlier of the two is removed.
-- side: NULL for the reckoning that the checkpoint goes on with; the boot of a trace that was brought in beside it.
-- fix: kind of the fix; NULL where reckoning began anew, so that no run ends there.
CREATE TABLE anchor (
    id INTEGER PRIMARY KEY,
    bank TEXT NOT NULL,
    side INTEGER REFERENCES boot (no),
    boot INTEGER NOT NULL REFERENCES boot (no),
    mono_ms INTEGER NOT NULL,
    fix TEXT,
    version INTEGER NOT NULL,
    state TEXT NOT NULL
) STRICT;
CREATE INDEX anchor_by_bank ON anchor (bank, side, id);
