-- +goose Up
-- Who opened the records of a runner; with the deeds it is the trail of who saw
-- and changed what.
CREATE TABLE look (
	id     INTEGER PRIMARY KEY AUTOINCREMENT,
	at     INTEGER NOT NULL,
	who    TEXT NOT NULL,
	runner TEXT NOT NULL REFERENCES record (id),
	what   TEXT NOT NULL
) STRICT;
CREATE INDEX look_runner ON look (runner, at);
CREATE INDEX look_again ON look (runner, who, what, at);
