package app_test

import (
	"archive/zip"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"gaitwright/internal/app"
)

const goodWords = "ladder pigeon nine copper"

// measuredOnce is the folder of a studio with a measured visit and a film in it, and
// another runner beside; each test has a copy.
var measuredOnce struct {
	sync.Once
	dir, visit string
	film       []byte
}

func fullStudio(t *testing.T) (*app.Studio, app.PageRunner, app.PageVisit, []byte) {
	t.Helper()
	o := &measuredOnce
	o.Do(func() {
		st := openStudio(t)
		v := visitWithKeypoints(t, st)
		o.film = smallFilm(t, 1)
		if _, err := takeIn(t, st, v.ID, "side.mp4", o.film); err != nil {
			t.Fatal(err)
		}
		ctx, stop := context.WithCancel(bg)
		st.StartWork(ctx)
		job := must[app.PageJob](t)(st.MeasureVisit(bg, "Ida", v.ID, app.PageMeasureAsk{}))
		job = ended(t, st, job.ID)
		stop()
		if job.State != "done" {
			t.Fatalf("%+v", job)
		}
		other := must[app.PageRunner](t)(st.NewRunner(bg, "Ida", "Bo Stays (invented)"))
		must[app.PageVisit](t)(st.NewVisit(bg, "Ida", other.ID, ""))
		st.Close()
		dir, err := os.MkdirTemp("", "gaitwright-test-*")
		if err == nil {
			err = os.CopyFS(filepath.Join(dir, "results"), os.DirFS(st.Dir()))
		}
		if err != nil {
			t.Fatal(err)
		}
		o.dir, o.visit = dir, v.ID
	})
	if o.dir == "" {
		t.Skip("needs the measured studio, which could not be made")
	}
	st := openStudio(t)
	if err := os.CopyFS(st.Dir(), os.DirFS(filepath.Join(o.dir, "results"))); err != nil {
		t.Fatal(err)
	}
	v := must[app.PageVisit](t)(st.Visit(bg, o.visit))
	return st, must[app.PageRunner](t)(st.Runner(bg, v.Runner.ID)), v, o.film
}

// picture is all that a studio shows of its runners.
func picture(t *testing.T, st *app.Studio) string {
	t.Helper()
	var b bytes.Buffer
	put := func(v any) {
		if err := json.NewEncoder(&b).Encode(v); err != nil {
			t.Fatal(err)
		}
	}
	list := must[app.PageRunners](t)(st.Runners(bg, app.RunnerQuery{}))
	for _, row := range list.Rows {
		r := must[app.PageRunner](t)(st.Runner(bg, row.ID))
		put(r)
		for _, v := range r.Visits {
			put(must[app.PageVisit](t)(st.Visit(bg, v.ID)))
		}
	}
	for _, id := range must[[]string](t)(st.IDs()) {
		s, err := st.Load(id)
		if err != nil {
			t.Fatal(err)
		}
		if err := s.WriteCSV(&b); err != nil {
			t.Fatal(err)
		}
	}
	return b.String()
}

// TestBackupAfterTheFolderIsDestroyed makes a backup of a working studio, destroys
// its folder and puts it back: everything is there again, to the byte.
func TestBackupAfterTheFolderIsDestroyed(t *testing.T) {
	st, _, v, film := fullStudio(t)
	before := picture(t, st)
	file := filepath.Join(t.TempDir(), "studio.age")
	made, err := st.BackupTo(bg, file, goodWords, app.NoProgress{})
	if err != nil {
		t.Fatal(err)
	}
	if made.Runners != 2 || made.Files < 4 || made.Missing != 0 || made.Bytes < int64(len(film)) {
		t.Errorf("it says %+v", made)
	}
	if i, err := os.Stat(file); err != nil || i.Mode().Perm() != 0o600 {
		t.Errorf("others may read it: %v, %v", i.Mode(), err)
	}
	data := fileOf(t, file)
	for _, secret := range []string{"SQLite", "Åse", "side.mp4", string(film[len(film)/2 : len(film)/2+32])} {
		if bytes.Contains(data, []byte(secret)) {
			t.Errorf("%q can be read in the backup", secret)
		}
	}
	if k := must[app.PageKeeping](t)(st.Keeping(bg)); k.LastBackup == nil || !strings.Contains(k.BackupText, "just now") {
		t.Errorf("afterwards: %+v", k)
	}
	seen, err := app.VerifyBackup(bg, bytes.NewReader(data), goodWords, app.NoProgress{})
	if err != nil || seen.Runners != 2 || seen.Files != made.Files || seen.Missing != 0 {
		t.Errorf("verified: %+v, %v", seen, err)
	}

	dir := st.Dir()
	st.Close()
	if err := os.RemoveAll(dir); err != nil {
		t.Fatal(err)
	}
	again := must[*app.Studio](t)(app.OpenStudio(dir))
	t.Cleanup(again.Close)
	if k := must[app.PageKeeping](t)(again.Keeping(bg)); !k.Empty { // the page is open on an empty studio
		t.Errorf("the destroyed studio is %+v", k)
	}
	if _, err := again.Restore(bg, bytes.NewReader(data), goodWords, app.NoProgress{}); err != nil {
		t.Fatal(err)
	}
	after := strings.Split(picture(t, again), "\n")
	for i, was := range strings.Split(before, "\n") {
		if i >= len(after) || after[i] != was {
			t.Fatalf("the restored studio differs in line %d:\n%s\nwas\n%s", i+1, after[min(i, len(after)-1)], was)
		}
	}
	clip := v.Clips[slices.IndexFunc(v.Clips, func(c app.PageVisitClip) bool { return c.Name == "side.mp4" })]
	if _, err := again.ClipFrame(bg, clip.ID, 3); err != nil {
		t.Errorf("the film does not open: %v", err)
	}
	// A second time it would overwrite.
	if _, err := again.Restore(bg, bytes.NewReader(data), goodWords, app.NoProgress{}); kindOf(t, err) != app.KindUsage {
		t.Errorf("restored over records: %v", err)
	}
	left, err := filepath.Glob(filepath.Join(dir, ".*"))
	if err != nil || len(left) != 0 {
		t.Errorf("left behind: %q, %v", left, err)
	}
}

func TestBackupsThatAreRefused(t *testing.T) {
	st := openStudio(t)
	consented(t, st)
	var b bytes.Buffer
	if _, err := st.Backup(bg, &b, "short", app.NoProgress{}); kindOf(t, err) != app.KindUsage {
		t.Errorf("a short passphrase: %v", err)
	}
	if _, err := st.Backup(bg, &b, goodWords, app.NoProgress{}); err != nil {
		t.Fatal(err)
	}
	whole := b.Bytes()
	if _, err := st.BackupTo(bg, filepath.Join(t.TempDir(), "studio.zip"), goodWords, app.NoProgress{}); kindOf(t, err) != app.KindUsage {
		t.Errorf("a name with another ending: %v", err)
	}
	altered := slices.Clone(whole)
	altered[len(altered)*2/3] ^= 1
	for name, c := range map[string]struct {
		file  []byte
		words string
		kind  app.Kind
	}{
		"another passphrase": {whole, "ladder pigeon nine silver", app.KindUsage},
		"cut short":          {whole[:len(whole)-40], goodWords, app.KindNoResult},
		"altered":            {altered, goodWords, app.KindNoResult},
		"no backup":          {[]byte("hello, this is a letter"), goodWords, app.KindUsage},
		"nothing":            {nil, goodWords, app.KindUsage},
	} {
		to := must[*app.Studio](t)(app.OpenStudio(filepath.Join(t.TempDir(), "empty")))
		t.Cleanup(to.Close)
		_, err := to.Restore(bg, bytes.NewReader(c.file), c.words, app.NoProgress{})
		if kindOf(t, err) != c.kind {
			t.Errorf("%s: %v", name, err)
		}
		if k := must[app.PageKeeping](t)(to.Keeping(bg)); !k.Empty {
			t.Errorf("%s: something was restored: %+v", name, k)
		}
		if left, _ := filepath.Glob(filepath.Join(to.Dir(), ".*")); len(left) != 0 {
			t.Errorf("%s left %q", name, left)
		}
		if _, err := app.VerifyBackup(bg, bytes.NewReader(c.file), c.words, app.NoProgress{}); kindOf(t, err) != c.kind {
			t.Errorf("%s, verified: %v", name, err)
		}
	}
}

// A backup that is read takes its time. Who begins to work in the empty studio meanwhile
// loses nothing.
func TestAStudioThatIsBegunWhileABackupIsRead(t *testing.T) {
	st := openStudio(t)
	consented(t, st)
	var b bytes.Buffer
	if _, err := st.Backup(bg, &b, goodWords, app.NoProgress{}); err != nil {
		t.Fatal(err)
	}
	to := must[*app.Studio](t)(app.OpenStudio(filepath.Join(t.TempDir(), "empty")))
	t.Cleanup(to.Close)
	var begun app.PageRunner
	atItsEnd := readerFunc(func([]byte) (int, error) {
		if begun.ID == "" {
			begun = must[app.PageRunner](t)(to.NewRunner(bg, "tablet", "Ida"))
		}
		return 0, io.EOF
	})
	if _, err := to.Restore(bg, io.MultiReader(&b, atItsEnd), goodWords, app.NoProgress{}); kindOf(t, err) != app.KindUsage || !strings.Contains(err.Error(), "there are records already") {
		t.Errorf("restored over a runner: %v", err)
	}
	if got := must[app.PageRunners](t)(to.Runners(bg, app.RunnerQuery{})); len(got.Rows) != 1 || got.Rows[0].ID != begun.ID {
		t.Errorf("the studio has %+v", got.Rows)
	}
}

type readerFunc func([]byte) (int, error)

func (f readerFunc) Read(p []byte) (int, error) { return f(p) }

// A program that is killed while it verifies a backup leaves its records open in a
// folder: the next one removes them, and not those of one that is at it.
func TestVerifyingLeavesNoRecordsBehind(t *testing.T) {
	st := openStudio(t)
	consented(t, st)
	var b bytes.Buffer
	if _, err := st.Backup(bg, &b, goodWords, app.NoProgress{}); err != nil {
		t.Fatal(err)
	}
	temp := t.TempDir()
	for _, name := range []string{"TMPDIR", "TMP", "TEMP"} { // as the systems call it
		t.Setenv(name, temp)
	}
	left := filepath.Join(temp, "gaitwright-verify-1")
	if err := os.Mkdir(left, 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(left, "studio.db"), []byte("records"), 0o600); err != nil {
		t.Fatal(err)
	}
	inside := 0
	again := readerFunc(func([]byte) (int, error) { // while the other reads
		if inside == 0 {
			inside++
			if _, err := app.VerifyBackup(bg, bytes.NewReader(b.Bytes()), goodWords, app.NoProgress{}); err != nil {
				t.Errorf("inside: %v", err)
			}
		}
		return 0, io.EOF
	})
	if _, err := app.VerifyBackup(bg, io.MultiReader(again, bytes.NewReader(b.Bytes())), goodWords, app.NoProgress{}); err != nil {
		t.Error(err)
	}
	if names, _ := filepath.Glob(filepath.Join(temp, "gaitwright-*")); len(names) != 0 {
		t.Errorf("left are %q", names)
	}
}

// bytesOf reads every file of a folder.
func bytesOf(t *testing.T, dir string) map[string][]byte {
	t.Helper()
	out := map[string][]byte{}
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err == nil && d.Type().IsRegular() {
			out[path] = fileOf(t, path)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// TestErasedWholly erases a runner and then looks, independently of the program,
// through the bytes of every file for anything of that runner.
func TestErasedWholly(t *testing.T) {
	st, r, v, film := fullStudio(t)
	secret := "Her goal is the Frostmoor relay"
	p := healthy(st)
	p.Goals = secret
	p.Version = v.Intake.Version
	must[app.PageIntake](t)(st.ChangeIntake(bg, "Ida", v.ID, p))
	p = *must[app.PageVisit](t)(st.Visit(bg, v.ID)).Intake
	p.Goals = "changed since" // the older one stands in the journal
	must[app.PageIntake](t)(st.ChangeIntake(bg, "Ida", v.ID, p))
	if err := st.Saw(bg, "Ida", "visits", v.ID, ""); err != nil {
		t.Fatal(err)
	}
	up := must[app.PageUpload](t)(st.BeginUpload(bg, "", v.ID, app.PageUploadAsk{Name: "late.mp4", Size: 1 << 20}))
	noise := make([]byte, 4096)
	src := rand.NewChaCha8([32]byte{7})
	src.Read(noise)
	if _, err := st.AddToUpload(bg, up.Upload, 0, bytes.NewReader(noise)); err != nil {
		t.Fatal(err)
	}
	still := filepath.Join(st.Dir(), "stills", fmt.Sprintf("%x", sha256.Sum256(film)), "7-1080.jpg")
	if err := os.MkdirAll(filepath.Dir(still), 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(still, []byte("a frame of the film, kept for reports"), 0o600); err != nil {
		t.Fatal(err)
	}
	traces := map[string][]byte{"frame for reports": []byte("a frame of the film"), "name": []byte("Åse Øygard"), "runner": []byte(r.ID), "visit": []byte(v.ID), "goal": []byte(secret), "film": film[len(film)/2 : len(film)/2+48],
		"upload": noise[1000:1064], "clip name": []byte("side.mp4"), "result": []byte(v.Results[0].ID)}
	count := func() map[string]int {
		n := map[string]int{}
		for _, b := range bytesOf(t, st.Dir()) {
			for what, trace := range traces {
				n[what] += bytes.Count(b, trace)
			}
		}
		return n
	}
	before := count()
	for what := range traces {
		if before[what] == 0 {
			t.Fatalf("the search would not find the %s if it were there", what)
		}
	}
	preview := must[app.PageErase](t)(st.ErasePreview(bg, r.ID))
	if preview.Visits != 1 || preview.Films != 1 || preview.Results != 1 || !strings.Contains(preview.Text, "cannot be undone") || !strings.Contains(preview.Text, "Backups") {
		t.Errorf("before: %+v", preview)
	}
	if _, err := st.EraseRunner(bg, "Ida", r.ID, "Bo Stays (invented)"); kindOf(t, err) != app.KindUsage {
		t.Errorf("erased under another name: %v", err)
	}
	done, err := st.EraseRunner(bg, "Ida", r.ID, " åse  øygard (INVENTED) ")
	if err != nil {
		t.Fatal(err)
	}
	if len(done.Left) != 0 || done.Files < 3 || done.SearchedFiles == 0 || !strings.Contains(done.Text, "nothing of this runner was found") {
		t.Errorf("it says %+v", done)
	}
	for what, n := range count() {
		if n != 0 {
			t.Errorf("the %s is still there, %d times", what, n)
		}
	}
	if _, err := st.Visit(bg, v.ID); kindOf(t, err) != app.KindNotFound {
		t.Errorf("the visit opens: %v", err)
	}
	list := must[app.PageRunners](t)(st.Runners(bg, app.RunnerQuery{}))
	if len(list.Rows) != 1 || list.Rows[0].Name != "Bo Stays (invented)" || list.Rows[0].Visits != 1 {
		t.Errorf("left are %+v", list.Rows)
	}
	trail := must[[]app.PageTrailLine](t)(st.Trail(bg, ""))
	if len(trail) == 0 || trail[0].Who != "Ida" || !strings.HasPrefix(trail[0].What, "Erased a runner") {
		t.Errorf("the trail begins with %+v", trail)
	}
}

// TestSearchFindsWhatIsLeft shows that the program's own search is not blind.
func TestSearchFindsWhatIsLeft(t *testing.T) {
	st, r, _, _ := fullStudio(t)
	if err := os.WriteFile(filepath.Join(st.Dir(), "note.txt"), append(make([]byte, 1<<20-10), r.ID...), 0o600); err != nil {
		t.Fatal(err)
	}
	done, err := st.EraseRunner(bg, "Ida", r.ID, r.Name)
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(done.Left, []string{"note.txt"}) || !strings.Contains(done.Text, "still in note.txt") {
		t.Errorf("it says %+v", done)
	}
}

func TestWithdrawnConsentMeansGone(t *testing.T) {
	st, r, v, film := fullStudio(t)
	r.Consent.Records = nil
	if _, err := st.ChangeRunner(bg, "Ida", r.ID, "", r); kindOf(t, err) != app.KindNotAllowed || !strings.Contains(err.Error(), "Erase") {
		t.Errorf("the consent to records was withdrawn and everything stays: %v", err)
	}
	r = must[app.PageRunner](t)(st.Runner(bg, r.ID))
	r.Consent.Filming = nil
	must[app.PageRunner](t)(st.ChangeRunner(bg, "Ida", r.ID, v.ID, r))
	for path, b := range bytesOf(t, st.Dir()) {
		if bytes.Contains(b, film[len(film)/2:len(film)/2+48]) {
			t.Errorf("the film is still in %s", path)
		}
	}
	v = must[app.PageVisit](t)(st.Visit(bg, v.ID))
	for _, c := range v.Clips {
		if c.Kind == "film" {
			t.Errorf("the film %s is still named", c.Name)
		}
	}
	if len(v.Results) != 1 {
		t.Errorf("of the results %d are left; numbers may stay", len(v.Results))
	}
	if s, err := st.Load(v.Results[0].ID); err != nil || len(s.Clips) == 0 {
		t.Errorf("the result does not open: %v", err)
	}
	// Undo gives the consent back, not the film.
	v = must[app.PageVisit](t)(st.Undo(bg, "Ida", v.ID))
	if slices.ContainsFunc(v.Clips, func(c app.PageVisitClip) bool { return c.Kind == "film" }) {
		t.Error("undo brought the film back")
	}
}

// What is in the way when a consent is withdrawn, or a stop in that moment, does not
// leave the films where they are: they go when the runner is saved again, and when the
// program starts.
func TestWithdrawnConsentIsFinished(t *testing.T) {
	st := openStudio(t)
	work(t, st)
	other := must[*app.Studio](t)(app.OpenStudio(st.Dir()))
	t.Cleanup(other.Close)
	film := smallFilm(t, 1)
	withdrawn := func() (app.PageRunner, string) {
		t.Helper()
		r, v := consented(t, st)
		must[app.PageVisitClip](t)(takeIn(t, st, v.ID, "a.mp4", film))
		runs(t, other, must[app.PageVisit](t)(st.Visit(bg, v.ID)))
		r = must[app.PageRunner](t)(st.Runner(bg, r.ID))
		r.Consent.Filming = nil
		if _, err := other.ChangeRunner(bg, "", r.ID, "", r); kindOf(t, err) != app.KindBusy || !strings.Contains(err.Error(), "could not be erased yet") {
			t.Fatalf("withdrawn under the work of another program: %v", err)
		}
		r = must[app.PageRunner](t)(st.Runner(bg, r.ID))
		if v = must[app.PageVisit](t)(st.Visit(bg, v.ID)); r.Consent.Filming != nil || len(v.Clips) != 1 {
			t.Fatalf("afterwards: agreed on %v, %d clips", r.Consent.Filming, len(v.Clips))
		}
		return r, v.ID
	}
	gone := func(visit string) bool { return len(must[app.PageVisit](t)(st.Visit(bg, visit)).Clips) == 0 }
	r, visit := withdrawn()
	must[app.PageRunner](t)(other.ChangeRunner(bg, "", r.ID, "", r))
	if !gone(visit) {
		t.Error("saved again, the film is still there")
	}
	// Given again, it is not erased later.
	r, kept := withdrawn()
	r.Consent.Filming = ptr("2026-03-02")
	must[app.PageRunner](t)(other.ChangeRunner(bg, "", r.ID, "", r))
	_, visit = withdrawn()
	other.Close()
	st.Close()
	st = must[*app.Studio](t)(app.OpenStudio(st.Dir()))
	t.Cleanup(st.Close)
	work(t, st)
	for begun := time.Now(); !gone(visit); time.Sleep(10 * time.Millisecond) {
		if time.Since(begun) > 2*time.Minute {
			t.Fatal("after a start the film is still there")
		}
	}
	if gone(kept) {
		t.Error("the film of a runner who agreed again is gone")
	}
}

func TestARunnerTakesEverythingAway(t *testing.T) {
	st, r, v, film := fullStudio(t)
	var b bytes.Buffer
	if err := st.ExportRunner(bg, &b, r.ID); err != nil {
		t.Fatal(err)
	}
	z, err := zip.NewReader(bytes.NewReader(b.Bytes()), int64(b.Len()))
	if err != nil {
		t.Fatal(err)
	}
	files := map[string][]byte{}
	for _, f := range z.File {
		if !fs.ValidPath(f.Name) {
			t.Errorf("the name %q leads out", f.Name)
		}
		o, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		files[f.Name], err = io.ReadAll(o)
		if err = errors.Join(err, o.Close()); err != nil {
			t.Fatal(err)
		}
		if strings.HasSuffix(f.Name, ".json") && !json.Valid(files[f.Name]) {
			t.Errorf("%s is no JSON", f.Name)
		}
	}
	dir := "visits/" + v.Date
	if !bytes.Equal(files[dir+"/clips/side.mp4"], film) {
		t.Error("the film is not in it as it was taken in")
	}
	for _, name := range []string{"README.txt", "runner.json", dir + "/visit.json", dir + "/documents/intake.json", "trail.csv"} {
		if len(files[name]) == 0 {
			t.Errorf("there is no %s", name)
		}
	}
	var measures, tracks int
	for name, data := range files {
		if strings.HasSuffix(name, "/measures.csv") {
			rows, err := csv.NewReader(bytes.NewReader(data)).ReadAll()
			if err != nil || len(rows) < 10 {
				t.Errorf("%s has %d rows, %v", name, len(rows), err)
			}
			measures++
		}
		if strings.Contains(name, "/track-") {
			tracks++
		}
	}
	if measures != 1 || tracks != 2 {
		t.Errorf("%d tables of measures and %d tracks", measures, tracks)
	}
	if bytes.Contains(b.Bytes(), []byte("Bo Stays")) {
		t.Error("another runner is in it")
	}
}

func TestTheTrailSaysWhoSawAndChangedWhat(t *testing.T) {
	st := openStudio(t)
	now := time.Date(2026, 3, 14, 9, 0, 0, 0, time.UTC)
	st.SetClock(func() time.Time { return now })
	r, v := consented(t, st)
	see := func(who, kind, id, part string) {
		t.Helper()
		if err := st.Saw(bg, who, kind, id, part); err != nil {
			t.Fatal(err)
		}
	}
	see("Ida", "visits", v.ID, "")
	see("Ida", "visits", v.ID, "") // the page was read again
	see("Uwe", "visits", v.ID, "exam")
	see("Uwe", "runners", r.ID, "")
	must[app.PageVisit](t)(st.ChangeVisit(bg, "Uwe", v.ID, app.PageVisitFacts{Version: v.Version, Date: v.Date, Note: "late"}))
	must[app.PageVisit](t)(st.Undo(bg, "Ida", v.ID))
	var got []string
	for _, l := range must[[]app.PageTrailLine](t)(st.Trail(bg, r.ID)) {
		undone := ""
		if l.UndoneAt != nil {
			undone = ", undone by " + l.UndoneBy
		}
		got = append(got, l.Who+": "+l.What+undone)
	}
	for _, want := range []string{"Ida: Opened the visit of 14 March 2026", "Uwe: Opened the exam of the visit of 14 March 2026", "Uwe: Opened the runner's page"} {
		if n := len(slices.DeleteFunc(slices.Clone(got), func(s string) bool { return s != want })); n != 1 {
			t.Errorf("%q stands %d times in %q", want, n, got)
		}
	}
	if !slices.ContainsFunc(got, func(s string) bool { return strings.HasPrefix(s, "Uwe: ") && strings.HasSuffix(s, ", undone by Ida") }) {
		t.Errorf("what was undone is not in %q", got)
	}
	if err := st.Saw(bg, "Eve", "visits", "../../etc", ""); err != nil {
		t.Errorf("a look at nothing: %v", err)
	}
}

func TestTheStudioIsRemindedOfOldRecords(t *testing.T) {
	st := openStudio(t)
	now := time.Date(2026, 3, 14, 9, 0, 0, 0, time.UTC)
	st.SetClock(func() time.Time { return now })
	r, _ := consented(t, st)
	due := func() []string {
		t.Helper()
		var ids []string
		for _, d := range must[app.PageKeeping](t)(st.Keeping(bg)).Due {
			ids = append(ids, d.ID)
		}
		return ids
	}
	now = now.AddDate(3, 0, -1)
	if got := due(); len(got) != 0 {
		t.Errorf("a day before: %q", got)
	}
	now = now.AddDate(0, 0, 2)
	if got := due(); !slices.Equal(got, []string{r.ID}) {
		t.Errorf("after three years: %q", got)
	}
	must[app.PageKeeping](t)(st.KeepOn(bg, "Ida", r.ID))
	if got := due(); len(got) != 0 {
		t.Errorf("kept on: %q", got)
	}
	now = now.AddDate(1, 0, 1)
	if got := due(); len(got) != 1 {
		t.Errorf("a year later: %q", got)
	}
	if k := must[app.PageKeeping](t)(st.ChangeKeeping(bg, "Ida", 10)); len(k.Due) != 0 || k.RetentionYears != 10 {
		t.Errorf("with ten years: %+v", k)
	}
	if _, err := st.ChangeKeeping(bg, "Ida", -1); kindOf(t, err) != app.KindUsage {
		t.Errorf("a reminder in the past: %v", err)
	}
}
