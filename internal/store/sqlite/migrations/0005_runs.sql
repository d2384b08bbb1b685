-- +goose Up
-- Runs of a watch: the owner of such a record is the hash of its file, which no
-- two have.
CREATE UNIQUE INDEX record_run ON record (owner) WHERE kind = 'run' AND removed = 0;
