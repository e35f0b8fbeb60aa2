-- A run log as the first format of it was written: one run that ended, one that was broken off.
PRAGMA application_id = 1919510381;
PRAGMA user_version = 1;
CREATE TABLE run (
    no INTEGER PRIMARY KEY,
    id TEXT NOT NULL UNIQUE,
    rig TEXT NOT NULL,
    started_unix REAL NOT NULL,
    recipe TEXT NOT NULL,
    document TEXT NOT NULL,
    virtual INTEGER NOT NULL,
    version TEXT NOT NULL,
    process TEXT NOT NULL,
    ended_at REAL
) STRICT;
CREATE TABLE reading (
    run INTEGER NOT NULL REFERENCES run (no),
    seq INTEGER NOT NULL,
    clock ANY NOT NULL,
    t ANY NOT NULL,
    probe TEXT NOT NULL,
    value ANY,
    unit TEXT NOT NULL,
    cj_c ANY,
    fault TEXT,
    board_s ANY,
    by TEXT NOT NULL,
    sd_k ANY,
    PRIMARY KEY (run, seq)
) STRICT, WITHOUT ROWID;
CREATE TABLE mark (
    run INTEGER NOT NULL REFERENCES run (no),
    seq INTEGER NOT NULL,
    clock ANY NOT NULL,
    t ANY NOT NULL,
    word TEXT NOT NULL,
    by TEXT NOT NULL,
    detail TEXT NOT NULL,
    PRIMARY KEY (run, seq)
) STRICT, WITHOUT ROWID;
CREATE TABLE condition (
    run INTEGER NOT NULL REFERENCES run (no),
    seq INTEGER NOT NULL,
    clock ANY NOT NULL,
    t ANY NOT NULL,
    code TEXT NOT NULL,
    active INTEGER NOT NULL,
    text TEXT NOT NULL,
    PRIMARY KEY (run, seq)
) STRICT, WITHOUT ROWID;
CREATE TABLE said (
    run INTEGER NOT NULL REFERENCES run (no),
    seq INTEGER NOT NULL,
    at REAL NOT NULL,
    kind TEXT NOT NULL,
    line TEXT NOT NULL,
    PRIMARY KEY (run, seq)
) STRICT, WITHOUT ROWID;
CREATE TABLE learned (
    no INTEGER PRIMARY KEY,
    rig TEXT NOT NULL,
    run TEXT NOT NULL,
    model_version TEXT NOT NULL,
    text TEXT NOT NULL
) STRICT;
CREATE INDEX learned_rig ON learned (rig, model_version);
INSERT INTO run VALUES (1, 'porch-20260704T140000Z', 'porch', 1783173600.0, 'plain', 'id = "porch"', 0, '0.1.0', '', 60.0);
INSERT INTO run VALUES (2, 'porch-20260705T140000Z', 'porch', 1783260000.0, '', 'id = "porch"', 0, '0.1.0', '', NULL);
INSERT INTO reading VALUES (1, 1, 0.0, 1.0, 'bath', -15.5, 'Cel', NULL, NULL, NULL, 'probe', NULL);
INSERT INTO reading VALUES (1, 3, 2.0, 3.0, 'mix', 'nan', 'Cel', NULL, NULL, NULL, 'probe', NULL);
INSERT INTO reading VALUES (2, 1, 0.0, 7.0, 'bath', -16.0, 'Cel', NULL, NULL, NULL, 'probe', NULL);
INSERT INTO mark VALUES (1, 2, 1.0, 2.0, 'pour', 'maker', '{"mix_g": 900.0}');
INSERT INTO said VALUES (1, 1, 2.0, 'mark', '{"type":"mark","at":2.0}');
INSERT INTO learned VALUES (1, 'porch', 'porch-20260704T140000Z', '1', '{}');
