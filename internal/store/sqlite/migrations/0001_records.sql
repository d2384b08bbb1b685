-- +goose Up
PRAGMA application_id = 1197566324; -- "Gait": marks the file as records of this program

-- Every journalled record. Times are microseconds since 1970.
CREATE TABLE record (
	id      TEXT PRIMARY KEY,
	kind    TEXT NOT NULL,
	version INTEGER NOT NULL,
	created INTEGER NOT NULL,
	changed INTEGER NOT NULL,
	removed INTEGER NOT NULL,
	deed    INTEGER NOT NULL,            -- that made its content; 0 where it never was
	parent  TEXT NOT NULL,               -- runner of a visit, visit of the others, or ''
	label   TEXT NOT NULL,               -- kind of a document, or ''
	owner   TEXT NOT NULL,               -- owner of a document, or ''
	at      INTEGER NOT NULL,            -- date of a visit, else when it was made
	body    TEXT NOT NULL                -- the rest as JSON
) STRICT;
CREATE INDEX record_child ON record (parent, kind, at, id) WHERE removed = 0;
CREATE INDEX record_result ON record (at, id) WHERE kind = 'result' AND removed = 0;
CREATE UNIQUE INDEX record_document ON record (owner, label) WHERE kind = 'document' AND removed = 0;

-- What people did.
CREATE TABLE deed (
	id        INTEGER PRIMARY KEY AUTOINCREMENT,
	at        INTEGER NOT NULL,
	who       TEXT NOT NULL,
	what      TEXT NOT NULL,
	list      TEXT NOT NULL,             -- whose undo list it is in, or ''
	state     INTEGER NOT NULL DEFAULT 0, -- 0 done, 1 undone, 2 undone and past redoing
	undone_at INTEGER,
	undone_by TEXT
) STRICT;
CREATE INDEX deed_list ON deed (list, state, id);

-- What each record became by a deed.
CREATE TABLE content (
	record  TEXT NOT NULL REFERENCES record (id),
	deed    INTEGER NOT NULL REFERENCES deed (id),
	before  INTEGER NOT NULL,            -- deed that had made the content before, or 0
	version INTEGER NOT NULL,            -- that the record then had
	removed INTEGER NOT NULL,
	body    ANY,                         -- JSON, or that deflated; null where removed
	PRIMARY KEY (record, deed)
) STRICT;
CREATE INDEX content_deed ON content (deed);

-- Files that a record names or once named.
CREATE TABLE file (
	hash   TEXT NOT NULL,
	record TEXT NOT NULL REFERENCES record (id),
	PRIMARY KEY (hash, record)
) STRICT, WITHOUT ROWID;

CREATE TABLE job (
	id      TEXT PRIMARY KEY,
	version INTEGER NOT NULL,
	created INTEGER NOT NULL,
	changed INTEGER NOT NULL,
	state   TEXT NOT NULL,
	body    TEXT NOT NULL
) STRICT;
CREATE INDEX job_state ON job (state, id);

CREATE TABLE setting (
	name  TEXT PRIMARY KEY,
	value TEXT NOT NULL
) STRICT, WITHOUT ROWID;
