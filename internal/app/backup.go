package app

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"gaitwright/internal/backup"
	"gaitwright/internal/store"
	"gaitwright/internal/store/folder"
	"gaitwright/internal/store/sqlite"
)

// BackupEnding is how the name of a backup ends: it is an age file.
const BackupEnding = ".age"

// settingBackup is when the last backup was written whole.
const settingBackup = "backup_made"

// The entries of a backup.
const (
	backupRecords = recordsFile
	backupFiles   = filesFolder + "/" // and the hash
	backupErrors  = ownErrorsFile
	backupOwn     = "own/" // and the name of a file of the user's own tables
)

// maxRecords bounds the records within a backup.
const maxRecords = 64 << 30

// ownTables are the user's own tables, which lie outside the studio's folder.
func ownTables() []string { return []string{NormsFile(), RulesFile(), ExercisesFile()} }

// PageBackup is what a backup holds.
type PageBackup struct {
	Studio  string `json:"studio"`
	Made    string `json:"made"` // RFC 3339
	Program string `json:"program"`
	Bytes   int64  `json:"bytes"` // before encryption
	Runners int    `json:"runners"`
	Files   int    `json:"files"` // films, tracks and measured sessions
	// Missing are files that the records name and that were not in the studio's
	// folder any more.
	Missing int `json:"missing"`
	// Kept are tables of the user's own in the backup that were left as they are
	// here, because there are some already.
	Kept []string `json:"kept"`
}

// GoodPassphrase refuses a passphrase that could be guessed.
func GoodPassphrase(passphrase string) error {
	if n := len([]rune(passphrase)); n < MinPassphrase || n > MaxPassphrase {
		return &Problem{Kind: KindUsage, Field: "passphrase", What: fmt.Sprintf("a backup needs a passphrase of %d to %d characters", MinPassphrase, MaxPassphrase),
			Mend: "Four or five words picked by chance are good. Write it down and keep it apart from the backup: without it the backup cannot be opened by anyone."}
	}
	return nil
}

// Backup writes the whole studio as it is this moment into one encrypted file,
// while the program goes on working.
func (st *Studio) Backup(ctx context.Context, w io.Writer, passphrase string, progress Progress) (PageBackup, error) {
	out := PageBackup{Kept: []string{}}
	if err := GoodPassphrase(passphrase); err != nil {
		return out, err
	}
	kept, err := st.records()
	if err != nil {
		return out, err
	}
	// The copy of the records is open to the reader of this folder alone, as they
	// themselves are, and goes when the backup is written.
	dir, err := os.MkdirTemp(st.dir, backingUp+"*")
	if err != nil {
		return out, recordProblem(err, st.dir)
	}
	defer os.RemoveAll(dir)
	copied := filepath.Join(dir, recordsFile)
	if err := kept.Snapshot(ctx, copied); err != nil {
		return out, recordProblem(err, copied)
	}
	entries := []backup.Entry{}
	add := func(name, path string) error {
		i, err := os.Stat(path)
		if err != nil {
			return err
		}
		entries = append(entries, backup.Entry{Name: name, Bytes: i.Size(), Open: func() (io.ReadCloser, error) { return os.Open(path) }})
		out.Bytes += i.Size()
		return nil
	}
	if err := add(backupRecords, copied); err != nil {
		return out, err
	}
	used, runners, studio, err := namedIn(ctx, kept.Store)
	if err != nil {
		return out, err
	}
	out.Studio, out.Runners = studio, runners
	for _, hash := range used {
		path, err := kept.files.Path(hash)
		if err == nil {
			err = add(backupFiles+hash, path)
		}
		if err != nil {
			if !errors.Is(err, store.ErrNotFound) && !errors.Is(err, fs.ErrNotExist) {
				return out, err
			}
			out.Missing++
			continue
		}
		out.Files++
	}
	more := map[string]string{backupErrors: st.ownErrorsPath()}
	for _, path := range ownTables() {
		more[backupOwn+filepath.Base(path)] = path
	}
	for name, path := range more {
		if err := add(name, path); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return out, &Problem{Kind: KindUnexpected, File: path, What: "cannot be read: " + err.Error(), Err: err}
		}
	}
	about := backup.About{Program: programName(), Studio: studio, Made: st.now()}
	out.Made, out.Program = about.Made.Format(time.RFC3339), about.Program
	progress.Stage("writing the backup", "", int(out.Bytes>>20)+1)
	shown := 0
	err = backup.Write(ctx, w, passphrase, about, entries, func(n int64) {
		if mb := int(n >> 20); mb > shown {
			progress.Advance(mb - shown)
			shown = mb
		}
	})
	if err != nil {
		return out, err
	}
	err = kept.Change(ctx, store.Deed{}, func(w store.Writer) error { return w.PutSetting(settingBackup, out.Made) })
	return out, recordProblem(err, "")
}

// BackupTo writes a backup into a file, which is there whole or not at all.
func (st *Studio) BackupTo(ctx context.Context, path, passphrase string, progress Progress) (PageBackup, error) {
	if err := CheckOutput(path, BackupEnding); err != nil {
		return PageBackup{}, err
	}
	var out PageBackup
	err := WriteFileWhole(path, func(w io.Writer) (err error) {
		out, err = st.Backup(ctx, w, passphrase, progress)
		return err
	})
	if err == nil {
		err = os.Chmod(path, 0o600)
	}
	return out, err
}

// namedIn lists the files that records name, in order, with how many runners there
// are and the studio's name.
func namedIn(ctx context.Context, s store.Store) (hashes []string, runners int, studio string, err error) {
	err = s.Read(ctx, func(r store.Reader) error {
		used, err := r.FilesInUse()
		if err != nil {
			return err
		}
		for h := range used {
			hashes = append(hashes, h)
		}
		slices.Sort(hashes)
		if studio, err = r.Setting(settingStudio); err != nil {
			return err
		}
		q := store.Query{Limit: 1000}
		for {
			rows, err := r.Runners(q)
			if err != nil {
				return err
			}
			runners += len(rows)
			if len(rows) < q.Limit {
				return nil
			}
			q.After = rows[len(rows)-1].Cursor
		}
	})
	return hashes, runners, studio, recordProblem(err, "")
}

// backupProblem says in words why a backup cannot be read.
func backupProblem(err error) error {
	var said *Problem
	switch {
	case err == nil || errors.As(err, &said) || errors.Is(err, context.Canceled):
		return err
	case errors.Is(err, backup.ErrPassphrase):
		return &Problem{Kind: KindUsage, Field: "passphrase", What: "this is not the passphrase the backup was made with", Mend: "Check capitals and the keyboard's language and try again. Without the passphrase nobody can open it.", Err: err}
	case errors.Is(err, backup.ErrNotBackup):
		return &Problem{Kind: KindUsage, Field: "file", What: "this file is no backup of a studio", Mend: "Choose the file that was written as a backup; its name ends in " + BackupEnding + ".", Err: err}
	case errors.Is(err, backup.ErrNewer):
		return &Problem{Kind: KindUsage, Field: "file", What: "the backup was made by a later version of the program", Mend: "Restore it with that version.", Err: err}
	case errors.Is(err, backup.ErrDamaged):
		return &Problem{Kind: KindNoResult, Field: "file", What: "the backup is damaged or was cut short; nothing of it was used", Mend: "Copy it again from where it lies, or take another backup.", Err: err}
	}
	return recordProblem(err, "")
}

// VerifyBackup reads a backup to its end, opens the records in it and checks that
// every file they name is there. Nothing of the studio is touched; the records lie
// for that time in a folder of the user's own beside the system's temporary files.
func VerifyBackup(ctx context.Context, r io.Reader, passphrase string, progress Progress) (PageBackup, error) {
	dir, remove, err := verifyFolder()
	if err != nil {
		return PageBackup{}, err
	}
	defer remove()
	return unpackBackup(ctx, r, passphrase, dir, false, progress)
}

// verifying is how the folders begin in which backups are verified.
const verifying = "gaitwright-verify-"

// verifyFolder makes a folder for a backup's records, which lie open in it, and removes
// those that programs left there which were killed.
func verifyFolder() (dir string, remove func(), err error) {
	left, _ := filepath.Glob(filepath.Join(os.TempDir(), verifying+"*"))
	for _, old := range left {
		i, err := os.Lstat(old)
		if err != nil || !i.IsDir() {
			continue
		}
		if release, ok := lockFile(old); ok { // nobody works in it
			release()
			os.RemoveAll(old)
		}
	}
	if dir, err = os.MkdirTemp("", verifying+"*"); err != nil {
		return "", nil, unwritable(os.TempDir(), err)
	}
	release, ok := lockFile(dir)
	if !ok {
		os.RemoveAll(dir)
		return "", nil, fmt.Errorf("the folder %s cannot be claimed; try again", dir)
	}
	return dir, func() { release(); os.RemoveAll(dir) }, nil
}

// unpackBackup reads a backup into an empty folder as a studio's folder is; with
// whole unset the files are checked and not kept.
func unpackBackup(ctx context.Context, r io.Reader, passphrase, dir string, whole bool, progress Progress) (PageBackup, error) {
	out := PageBackup{Kept: []string{}}
	files, err := folder.Open(filepath.Join(dir, filesFolder))
	if err != nil {
		return out, err
	}
	defer files.Close()
	there := map[string]bool{}
	records := filepath.Join(dir, recordsFile)
	put := func(path string, r io.Reader, bytes, most int64) error {
		if bytes > most {
			return fmt.Errorf("%w: %d bytes of %s", backup.ErrDamaged, bytes, filepath.Base(path))
		}
		if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
			return err
		}
		f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
		if err != nil {
			return err
		}
		_, err = io.Copy(f, r)
		return errors.Join(err, f.Sync(), f.Close())
	}
	var done int64
	about, err := backup.Read(ctx, r, passphrase, func(a backup.About) error {
		progress.Stage("reading the backup", "", int(a.Bytes>>20)+1)
		return nil
	}, func(name string, n int64, r io.Reader) error {
		defer func() {
			progress.Advance(int((done+n)>>20) - int(done>>20))
			done += n
		}()
		if hash, ok := strings.CutPrefix(name, backupFiles); ok {
			var got string
			var err error
			if whole {
				got, _, err = files.Put(ctx, r, 0)
			} else {
				sum := sha256.New()
				_, err = io.Copy(sum, r)
				got = hex.EncodeToString(sum.Sum(nil))
			}
			if err == nil && got != hash {
				err = fmt.Errorf("%w: %.80q is not what its name says", backup.ErrDamaged, name)
			}
			there[hash] = err == nil
			return err
		}
		switch {
		case name == backupRecords:
			return put(records, r, n, maxRecords)
		case name == backupErrors:
			return put(filepath.Join(dir, ownErrorsFile), r, n, 1<<20)
		case strings.HasPrefix(name, backupOwn) && !strings.Contains(name[len(backupOwn):], "/"):
			return put(filepath.Join(dir, filepath.FromSlash(name)), r, n, 64<<20)
		}
		return fmt.Errorf("%w: it has %.80q, which no backup has", backup.ErrNotBackup, name)
	})
	if err != nil {
		return out, backupProblem(err)
	}
	out.Made, out.Program, out.Bytes = about.Made.Format(time.RFC3339), about.Program, about.Bytes
	if _, err := os.Stat(records); err != nil {
		return out, backupProblem(fmt.Errorf("%w: there are no records in it", backup.ErrNotBackup))
	}
	s, err := sqlite.Open(records)
	if err != nil {
		return out, recordProblem(err, "the records in the backup")
	}
	defer s.Close()
	if err := s.Check(ctx); err != nil {
		return out, recordProblem(err, "the records in the backup")
	}
	used, runners, studio, err := namedIn(ctx, s)
	if err != nil {
		return out, err
	}
	out.Studio, out.Runners, out.Files = studio, runners, len(there)
	for _, h := range used {
		if !there[h] {
			out.Missing++
		}
	}
	return out, s.Close()
}

// How the names of folders begin in which a backup is read, and made.
const (
	restoring = ".restoring-"
	backingUp = ".backup-"
)

// Restore puts a backup in the place of a studio that holds nothing yet. Until all
// of it was read and checked the studio stays as it is.
func (st *Studio) Restore(ctx context.Context, r io.Reader, passphrase string, progress Progress) (PageBackup, error) {
	if err := os.MkdirAll(st.dir, 0o700); err != nil {
		return PageBackup{}, unwritable(st.dir, err)
	}
	if err := st.holdsNothing(ctx); err != nil {
		return PageBackup{}, err
	}
	dir, err := os.MkdirTemp(st.dir, restoring+"*")
	if err != nil {
		return PageBackup{}, recordProblem(err, st.dir)
	}
	defer os.RemoveAll(dir)
	out, err := unpackBackup(ctx, r, passphrase, dir, true, progress)
	if err != nil {
		return out, err
	}
	if err := st.moveIn(ctx, dir); err != nil {
		return out, recordProblem(err, st.dir)
	}
	// The user's own tables are put back where there are none.
	for _, path := range ownTables() {
		from := filepath.Join(dir, filepath.FromSlash(backupOwn), filepath.Base(path))
		data, err := os.ReadFile(from)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return out, err
		}
		if now, err := os.ReadFile(path); err == nil {
			if !bytes.Equal(now, data) {
				out.Kept = append(out.Kept, path)
			}
			continue
		}
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			return out, unwritable(path, err)
		}
		if err := WriteFileWhole(path, func(w io.Writer) error { _, err := w.Write(data); return err }); err != nil {
			return out, err
		}
	}
	st.dropKept()
	st.tell("runner", PageTouched{})
	return out, nil
}

// holdsNothing refuses a studio that has records already.
func (st *Studio) holdsNothing(ctx context.Context) error {
	if _, err := os.Stat(filepath.Join(st.dir, recordsFile)); errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	kept, err := st.records()
	if err != nil {
		return err
	}
	return st.emptyRecords(ctx, kept)
}

func (st *Studio) emptyRecords(ctx context.Context, kept *records) error {
	return recordProblem(kept.Read(ctx, func(r store.Reader) error {
		rows, err := r.Runners(store.Query{Limit: 1})
		if err != nil {
			return err
		}
		results, err := r.Results(1)
		if err != nil {
			return err
		}
		if len(rows)+len(results) > 0 {
			return problem(KindUsage, st.dir, "Name an empty folder with --results, restore there, and look whether all is well before you let go of this one.",
				"there are records already; a backup is put into a studio that holds nothing, so that nothing is overwritten")
		}
		return nil
	}), "")
}

// moveIn puts a folder's records and files in the place of those of the studio, if it
// still holds nothing: reading the backup took a while, and nobody opens the records
// from here on. The records come last: with them the studio is the restored one, and
// before them it holds nothing.
func (st *Studio) moveIn(ctx context.Context, dir string) error {
	st.opening.Lock()
	defer st.opening.Unlock()
	if _, err := os.Stat(filepath.Join(st.dir, recordsFile)); err == nil {
		if st.kept == nil {
			if st.kept, err = openRecords(st.dir); err != nil {
				return err
			}
		}
		if err := st.emptyRecords(ctx, st.kept); err != nil {
			return err
		}
	}
	if st.kept != nil {
		if err := st.kept.Close(); err != nil {
			return err
		}
		st.kept = nil
	}
	for _, n := range []string{recordsFile, recordsFile + "-wal", recordsFile + "-shm"} {
		if err := os.Remove(filepath.Join(st.dir, n)); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
	}
	if err := os.RemoveAll(filepath.Join(st.dir, filesFolder)); err != nil {
		return err
	}
	for _, n := range []string{filesFolder, ownErrorsFile, recordsFile} {
		err := os.Rename(filepath.Join(dir, n), filepath.Join(st.dir, n))
		if err != nil && !(n == ownErrorsFile && errors.Is(err, fs.ErrNotExist)) {
			return err
		}
	}
	return nil
}

// dropUnfinished removes what a backup or a restoring that was broken off left
// behind; what another program may be writing is left for a day.
func (st *Studio) dropUnfinished() {
	for _, pattern := range []string{restoring, backingUp} {
		left, _ := filepath.Glob(filepath.Join(st.dir, pattern+"*"))
		for _, dir := range left {
			if i, err := os.Stat(dir); err == nil && st.now().Sub(i.ModTime()) > 24*time.Hour {
				os.RemoveAll(dir)
			}
		}
	}
}

// dropKept forgets what is held in memory of the records.
func (st *Studio) dropKept() {
	st.dropFilms()
	st.Rest()
	st.mu.Lock()
	st.seen = nil
	st.mu.Unlock()
	st.clipFilms.drop()
	st.together.drop()
}
