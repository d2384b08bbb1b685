-- +goose Up
-- The numbers of each result in short, for looking at many together. They can be
-- made anew from the results and are no part of the journal.
CREATE TABLE digest (
	result TEXT PRIMARY KEY REFERENCES record (id),
	body   BLOB NOT NULL
) STRICT; -- with row IDs, so that which there are is told without reading the bodies
CREATE INDEX record_label ON record (label) WHERE kind = 'document' AND removed = 0;
CREATE INDEX record_changed ON record (changed);
