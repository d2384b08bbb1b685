package web

import (
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"gaitwright/internal/app"
)

// The invented studio is offered to who sits at the machine and to no one else; where
// it cannot be made the reason is told, and what lies in its folder is not touched.
func TestLookAround(t *testing.T) {
	st, err := app.OpenStudio(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	defer st.Close()
	taken := t.TempDir()
	if err := os.WriteFile(filepath.Join(taken, "diary.txt"), []byte("x"), 0o600); err != nil {
		t.Fatal(err)
	}
	s := New(st, Options{InventedDir: taken})
	ask := func(method, from string) (int, LookAround) {
		t.Helper()
		r := httptest.NewRequest(method, "http://localhost/api/invented", nil)
		r.RemoteAddr = from
		w := httptest.NewRecorder()
		s.Handler().ServeHTTP(w, r)
		var a LookAround
		if w.Code == http.StatusOK {
			if err := json.Unmarshal(w.Body.Bytes(), &a); err != nil {
				t.Fatal(err)
			}
		}
		return w.Code, a
	}
	if code, a := ask("GET", "127.0.0.1:5000"); code != 200 || a.State != "none" {
		t.Errorf("from this machine: %d %+v", code, a)
	}
	if code, a := ask("GET", "192.168.1.40:5000"); code != 200 || a.State != "" {
		t.Errorf("from another: %d %+v", code, a)
	}
	if code, _ := ask("POST", "192.168.1.40:5000"); code != http.StatusForbidden {
		t.Errorf("begun from another: %d", code)
	}
	if code, _ := ask("POST", "127.0.0.1:5000"); code != 200 {
		t.Errorf("begun: %d", code)
	}
	<-s.around.done
	if _, a := ask("GET", "127.0.0.1:5000"); a.State != "failed" || !strings.Contains(a.Fault, "not empty") {
		t.Errorf("in a folder that holds something: %+v", a)
	}
	if left, err := os.ReadDir(taken); err != nil || len(left) != 1 {
		t.Errorf("its folder now holds %v", left)
	}
	s.around.close()
}
