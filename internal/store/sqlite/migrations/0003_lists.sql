-- +goose Up
-- The list of runners with their visits, kept ready: counting 50,000 visits for
-- each list would take longer than a person should wait.
CREATE TABLE seen (
	runner  TEXT PRIMARY KEY REFERENCES record (id),
	at      INTEGER NOT NULL,            -- last visit, or when taken in
	visits  INTEGER NOT NULL,
	last    TEXT NOT NULL,               -- date of the last visit, or ''
	last_id TEXT NOT NULL
) STRICT, WITHOUT ROWID;
CREATE INDEX seen_order ON seen (at, runner);

CREATE TABLE tag (
	runner TEXT NOT NULL REFERENCES record (id),
	name   TEXT NOT NULL,
	visits INTEGER NOT NULL,
	PRIMARY KEY (runner, name)
) STRICT, WITHOUT ROWID;
CREATE INDEX tag_name ON tag (name, runner);

-- The day of a visit as in its own zone.
ALTER TABLE record ADD COLUMN day TEXT GENERATED ALWAYS AS (substr(json_extract(body, '$.date'), 1, 10)) VIRTUAL;
CREATE INDEX record_day ON record (parent, day) WHERE kind = 'visit' AND removed = 0;
CREATE INDEX record_days ON record (day, parent) WHERE kind = 'visit' AND removed = 0;

INSERT INTO seen (runner, at, visits, last, last_id)
SELECT r.id, coalesce(v.at, r.created),
	(SELECT count(*) FROM record n WHERE n.parent = r.id AND n.kind = 'visit' AND n.removed = 0),
	coalesce(json_extract(v.body, '$.date'), ''), coalesce(v.id, '')
FROM record r LEFT JOIN record v ON v.id = (
	SELECT l.id FROM record l WHERE l.parent = r.id AND l.kind = 'visit' AND l.removed = 0 ORDER BY l.at DESC, l.id DESC LIMIT 1)
WHERE r.kind = 'runner' AND r.removed = 0;

INSERT INTO tag (runner, name, visits)
SELECT v.parent, j.value, count(DISTINCT v.id)
FROM record v, json_each(v.body, '$.tags') j
WHERE v.kind = 'visit' AND v.removed = 0 AND j.value <> ''
GROUP BY v.parent, j.value;
