package web

import (
	"archive/zip"
	"bytes"
	"io"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"gaitwright/internal/app"
	"gaitwright/internal/backup"
)

func init() { backup.WorkFactor = 10 } // the cost of guessing is not what is tested

const backupWords = "ladder pigeon nine copper"

// sealed sends a backup as the page does.
func sealed(file []byte, words string) func(*http.Request) {
	return func(r *http.Request) {
		r.Header.Set("Content-Type", backupType)
		r.Header.Set(headerPassphrase, url.PathEscape(words))
		r.Body, r.ContentLength = io.NopCloser(bytes.NewReader(file)), int64(len(file))
	}
}

func TestBackupOverThePage(t *testing.T) {
	_, c := visitServer(t)
	runner, _ := c.begin()
	short := c.refused(http.StatusUnprocessableEntity, "POST", "/api/backups", map[string]string{"passphrase": "short"})
	if short.Field != "passphrase" {
		t.Errorf("a short passphrase: %+v", short)
	}
	ask := get[map[string]string](c, "POST", "/api/backups", map[string]string{"passphrase": backupWords})
	status, h, file := c.do("GET", ask["url"], nil)
	if status != http.StatusOK || !strings.HasPrefix(h.Get("Content-Disposition"), "attachment; filename=gaitwright-") || !bytes.HasPrefix(file, []byte("age-encryption.org/v1\n")) {
		t.Fatalf("%d %v %.40q", status, h, file)
	}
	if status, _, _ := c.do("GET", ask["url"], nil); status != http.StatusNotFound {
		t.Errorf("fetched a second time: %d", status)
	}
	if k := get[app.PageKeeping](c, "GET", "/api/keeping", nil); k.LastBackup == nil || k.Empty {
		t.Errorf("afterwards: %+v", k)
	}

	status, _, body := c.do("POST", "/api/backups/verify", nil, sealed(file, backupWords))
	if status != http.StatusOK || !bytes.Contains(body, []byte(`"runners":1`)) {
		t.Errorf("verified: %d %s", status, body)
	}
	if status, _, body := c.do("POST", "/api/backups/verify", nil, sealed(file, "another four words")); status != http.StatusUnprocessableEntity || !bytes.Contains(body, []byte("passphrase")) {
		t.Errorf("with another passphrase: %d %s", status, body)
	}
	if status, _, body := c.do("POST", "/api/backups/restore", nil, sealed(file, backupWords)); status != http.StatusUnprocessableEntity || !bytes.Contains(body, []byte("records already")) {
		t.Errorf("over records: %d %s", status, body)
	}
	_, fresh := visitServer(t)
	if status, _, body := fresh.do("POST", "/api/backups/restore", nil, sealed(file, backupWords)); status != http.StatusOK {
		t.Fatalf("restored: %d %s", status, body)
	}
	if r := get[app.PageRunner](fresh, "GET", "/api/runners/"+runner.ID, nil); r.Name != runner.Name || len(r.Visits) != 1 {
		t.Errorf("restored is %+v", r)
	}
	if status, _, _ := fresh.do("POST", "/api/backups/restore", map[string]string{}); status != http.StatusUnsupportedMediaType {
		t.Errorf("a form in the place of a file: %d", status)
	}
}

func TestErasingOverThePage(t *testing.T) {
	_, c := visitServer(t)
	runner, visit := c.begin()
	get[app.PageVisit](c, "GET", "/api/visits/"+visit.ID, nil)
	trail := get[[]app.PageTrailLine](c, "GET", "/api/runners/"+runner.ID+"/trail", nil)
	saw := 0
	for _, l := range trail {
		if l.Saw {
			saw++
		}
	}
	if saw == 0 || len(trail) <= saw {
		t.Errorf("the trail is %+v", trail)
	}
	status, h, body := c.do("GET", "/api/runners/"+runner.ID+"/everything.zip", nil)
	if z, err := zip.NewReader(bytes.NewReader(body), int64(len(body))); status != http.StatusOK || err != nil || len(z.File) < 4 || h.Get("Content-Type") != "application/zip" {
		t.Errorf("%d %v %v", status, h, err)
	}
	before := get[app.PageErase](c, "GET", "/api/runners/"+runner.ID+"/erase", nil)
	if before.Visits != 1 || before.Name != runner.Name {
		t.Errorf("before: %+v", before)
	}
	if r := c.refused(http.StatusUnprocessableEntity, "POST", "/api/runners/"+runner.ID+"/erase", map[string]string{"name": "someone else"}); r.Field != "name" {
		t.Errorf("under another name: %+v", r)
	}
	done := get[app.PageErased](c, "POST", "/api/runners/"+runner.ID+"/erase", map[string]string{"name": runner.Name})
	if len(done.Left) != 0 || done.Records < 2 {
		t.Errorf("erased: %+v", done)
	}
	if status, _, _ := c.do("GET", "/api/runners/"+runner.ID, nil); status != http.StatusNotFound {
		t.Errorf("the runner still answers: %d", status)
	}
	k := get[app.PageKeeping](c, "PUT", "/api/keeping", map[string]int{"retention_years": 7})
	if k.RetentionYears != 7 || !k.Empty {
		t.Errorf("afterwards: %+v", k)
	}
	c.refused(http.StatusUnprocessableEntity, "PUT", "/api/keeping", map[string]int{"retention_years": 1000})
}
