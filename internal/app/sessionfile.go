package app

import (
	"compress/gzip"
	"context"
	"encoding/gob"
	"errors"
	"fmt"
	"io"

	"gaitwright/internal/store"
)

// sessionFormat is the version of a session as a file. One of a later version is
// left alone and said to be so.
const sessionFormat = 1

type storedSession struct {
	Format  int
	Session *Session
}

// putSession keeps a session as a file and returns its hash.
func putSession(ctx context.Context, files store.FileKeeper, s *Session) (string, error) {
	return putGob(ctx, files, storedSession{Format: sessionFormat, Session: s})
}

// getSession reads a session that putSession kept.
func getSession(files store.FileKeeper, hash string) (*Session, error) {
	f, err := files.Open(hash)
	if errors.Is(err, store.ErrNotFound) {
		return nil, &Problem{Kind: KindUnexpected, What: "the file of this result is gone from the studio's folder", Mend: "Measure the clip again; the clip itself was never changed.", Err: err}
	}
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return readSession(f, f.Name())
}

// readSession reads a session; path is where it lies, for messages.
func readSession(r io.Reader, path string) (*Session, error) {
	var stored storedSession
	if err := readGob(r, &stored); err != nil {
		return nil, &Problem{Kind: KindUnexpected, File: path, What: "the kept result cannot be read: " + err.Error(), Mend: "Measure the clip again; the clip itself was never changed.", Err: err}
	}
	if stored.Format != sessionFormat || stored.Session == nil {
		return nil, problem(KindUnexpected, path, "Open it with the program that wrote it, or measure the clip again.", "was kept in format %d, and this program reads format %d", stored.Format, sessionFormat)
	}
	return stored.Session, nil
}

// putGob keeps a value as a compressed file and returns its hash.
func putGob(ctx context.Context, files store.FileKeeper, v any) (string, error) {
	r, w := io.Pipe()
	go func() {
		z, _ := gzip.NewWriterLevel(w, gzip.BestSpeed)
		err := gob.NewEncoder(z).Encode(v)
		if err == nil {
			err = z.Close()
		}
		w.CloseWithError(err)
	}()
	hash, _, err := files.Put(ctx, r, 0)
	r.CloseWithError(io.ErrClosedPipe) // ends the writer where it was not read out
	if err != nil {
		return "", fmt.Errorf("keeping a file: %w", err)
	}
	return hash, nil
}

func readGob(r io.Reader, v any) error {
	z, err := gzip.NewReader(r)
	if err != nil {
		return err
	}
	return gob.NewDecoder(z).Decode(v)
}
