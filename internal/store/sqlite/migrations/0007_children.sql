-- +goose Up
-- What belongs to a record, removed or not: a runner's trail goes down to all of it.
CREATE INDEX record_parent ON record (parent);
