"""The ledger's tables, version by version; each script leads from the one before."""

VERSIONS = (
    """
    CREATE TABLE garden (
        id INTEGER PRIMARY KEY,
        name TEXT NOT NULL,
        note TEXT NOT NULL,
        binned_at TEXT
    ) STRICT;
    CREATE UNIQUE INDEX garden_name ON garden (name) WHERE binned_at IS NULL;

    CREATE TABLE season (
        id INTEGER PRIMARY KEY,
        garden_id INTEGER NOT NULL REFERENCES garden,
        year INTEGER NOT NULL,
        loss REAL CHECK (loss BETWEEN 0 AND 1),
        binned_at TEXT
    ) STRICT;
    CREATE UNIQUE INDEX season_year ON season (garden_id, year)
        WHERE binned_at IS NULL;

    CREATE TABLE variety (
        id INTEGER PRIMARY KEY,
        garden_id INTEGER NOT NULL REFERENCES garden,
        name TEXT NOT NULL,
        note TEXT NOT NULL,
        binned_at TEXT
    ) STRICT;
    CREATE UNIQUE INDEX variety_name ON variety (garden_id, name)
        WHERE binned_at IS NULL;

    CREATE TABLE wish (
        id INTEGER PRIMARY KEY,
        season_id INTEGER NOT NULL REFERENCES season,
        variety_id INTEGER NOT NULL REFERENCES variety,
        wanted INTEGER NOT NULL CHECK (wanted >= 0),
        give_away INTEGER NOT NULL CHECK (give_away >= 0),
        binned_at TEXT
    ) STRICT;
    CREATE UNIQUE INDEX wish_of ON wish (season_id, variety_id)
        WHERE binned_at IS NULL;

    CREATE TABLE clump (
        id INTEGER PRIMARY KEY,
        season_id INTEGER NOT NULL REFERENCES season,
        name TEXT NOT NULL,
        code TEXT,
        variety_id INTEGER REFERENCES variety,
        bed TEXT NOT NULL,
        place TEXT NOT NULL,
        light TEXT NOT NULL
            CHECK (light IN ('', 'raking', 'slanting', 'frontal', 'daylight', 'flash')),
        lifted_on TEXT,
        cut_on TEXT,
        note TEXT NOT NULL,
        binned_at TEXT
    ) STRICT;
    CREATE UNIQUE INDEX clump_name ON clump (season_id, name) WHERE binned_at IS NULL;
    CREATE UNIQUE INDEX clump_code ON clump (season_id, code) WHERE binned_at IS NULL;
    CREATE INDEX clump_variety ON clump (variety_id);

    CREATE TABLE photo (
        id INTEGER PRIMARY KEY,
        season_id INTEGER NOT NULL REFERENCES season,
        clump_id INTEGER REFERENCES clump,
        path TEXT NOT NULL,
        sha256 TEXT NOT NULL,
        taken_at TEXT,
        code TEXT,
        placed_by TEXT CHECK (placed_by IN ('code', 'name', 'time', 'alone', 'grower')),
        record_path TEXT,
        record_sha256 TEXT,
        record_seen TEXT,
        again TEXT NOT NULL,
        failed TEXT NOT NULL,
        unanswered INTEGER NOT NULL,
        binned_at TEXT
    ) STRICT;
    CREATE UNIQUE INDEX photo_path ON photo (season_id, path) WHERE binned_at IS NULL;
    CREATE INDEX photo_clump ON photo (clump_id);

    CREATE TABLE box (
        id INTEGER PRIMARY KEY,
        season_id INTEGER NOT NULL REFERENCES season,
        name TEXT NOT NULL,
        litres REAL NOT NULL CHECK (litres > 0),
        note TEXT NOT NULL,
        binned_at TEXT
    ) STRICT;
    CREATE UNIQUE INDEX box_name ON box (season_id, name) WHERE binned_at IS NULL;

    CREATE TABLE piece (
        id INTEGER PRIMARY KEY,
        clump_id INTEGER NOT NULL REFERENCES clump,
        letter TEXT NOT NULL,
        eyes INTEGER NOT NULL,
        found_eyes INTEGER NOT NULL,
        confirmed_eyes INTEGER NOT NULL,
        eye_chance REAL NOT NULL CHECK (eye_chance BETWEEN 0 AND 1),
        safe INTEGER NOT NULL CHECK (safe IN (0, 1)),
        whole INTEGER NOT NULL CHECK (whole IN (0, 1)),
        volume_ml REAL NOT NULL CHECK (volume_ml >= 0),
        volume_sd_ml REAL NOT NULL CHECK (volume_sd_ml >= 0),
        thickest_mm REAL NOT NULL,
        note TEXT NOT NULL,
        box_id INTEGER REFERENCES box,
        layer TEXT NOT NULL CHECK (layer IN ('', 'bottom', 'middle', 'top')),
        binned_at TEXT
    ) STRICT;
    CREATE UNIQUE INDEX piece_letter ON piece (clump_id, letter);
    CREATE INDEX piece_box ON piece (box_id);

    CREATE TABLE way (
        id INTEGER PRIMARY KEY,
        clump_id INTEGER NOT NULL REFERENCES clump,
        style TEXT NOT NULL,
        cuts INTEGER NOT NULL,
        chances TEXT NOT NULL,
        volumes_ml TEXT NOT NULL,
        binned_at TEXT
    ) STRICT;
    CREATE UNIQUE INDEX way_style ON way (clump_id, style);

    CREATE TABLE store_check (
        id INTEGER PRIMARY KEY,
        piece_id INTEGER NOT NULL REFERENCES piece,
        on_day TEXT NOT NULL,
        result TEXT NOT NULL
            CHECK (result IN ('sound', 'shrivelled', 'soft', 'sprouted', 'lost')),
        note TEXT NOT NULL,
        binned_at TEXT
    ) STRICT;
    CREATE INDEX store_check_piece ON store_check (piece_id);

    CREATE TABLE growth (
        id INTEGER PRIMARY KEY,
        piece_id INTEGER NOT NULL REFERENCES piece,
        on_day TEXT NOT NULL,
        outcome TEXT NOT NULL CHECK (outcome IN ('shot', 'blind', 'rotted')),
        shoots INTEGER CHECK (shoots >= 0),
        note TEXT NOT NULL,
        binned_at TEXT
    ) STRICT;
    CREATE INDEX growth_piece ON growth (piece_id);

    CREATE VIEW piece_seen AS
    SELECT piece.*, clump.season_id, clump.name AS clump, clump.cut_on, clump.light,
        clump.variety_id, variety.name AS variety, box.name AS box,
        last_check.result, coalesce(last_check.result IN ('soft', 'lost'), 0) AS gone,
        last_growth.outcome
    FROM piece
    JOIN clump ON clump.id = piece.clump_id
    LEFT JOIN variety ON variety.id = clump.variety_id
    LEFT JOIN box ON box.id = piece.box_id
    LEFT JOIN store_check AS last_check ON last_check.id = (
        SELECT id FROM store_check WHERE piece_id = piece.id AND binned_at IS NULL
        ORDER BY on_day DESC, id DESC LIMIT 1)
    LEFT JOIN growth AS last_growth ON last_growth.id = (
        SELECT id FROM growth WHERE piece_id = piece.id AND binned_at IS NULL
        ORDER BY on_day DESC, id DESC LIMIT 1)
    WHERE clump.binned_at IS NULL AND piece.binned_at IS NULL;

    CREATE TABLE deed (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        at TEXT NOT NULL,
        what TEXT NOT NULL,
        undone INTEGER NOT NULL DEFAULT 0
    ) STRICT;
    CREATE TABLE step (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        deed_id INTEGER NOT NULL REFERENCES deed,
        name TEXT NOT NULL,
        row_id INTEGER NOT NULL,
        before TEXT,
        after TEXT NOT NULL
    ) STRICT;
    CREATE INDEX step_deed ON step (deed_id);

    CREATE TABLE draft (
        key TEXT PRIMARY KEY,
        text TEXT NOT NULL,
        at TEXT NOT NULL
    ) STRICT;
    """,
)
"""``VERSIONS[n - 1]`` leads from version n - 1 to n; version 0 is an empty file."""
