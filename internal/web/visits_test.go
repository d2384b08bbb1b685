package web

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"strconv"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"gaitwright/internal/app"
)

// client asks a server as the page does.
type client struct {
	t    testing.TB
	base string
	who  string
}

func visitServer(t testing.TB) (*app.Studio, *client) {
	t.Helper()
	st := emptyStudio(t)
	srv := httptest.NewServer(New(st, Options{Log: quiet()}).Handler())
	t.Cleanup(srv.Close)
	return st, &client{t: t, base: srv.URL, who: "the tablet"}
}

// do sends a request and returns status, headers and body. A body that is a
// string or bytes is sent as it is, anything else as JSON.
func (c *client) do(method, path string, body any, change ...func(*http.Request)) (int, http.Header, []byte) {
	c.t.Helper()
	var in io.Reader
	switch b := body.(type) {
	case nil:
	case string:
		in = strings.NewReader(b)
	case []byte:
		in = bytes.NewReader(b)
	default:
		j, err := json.Marshal(b)
		if err != nil {
			c.t.Fatal(err)
		}
		in = bytes.NewReader(j)
	}
	r, err := http.NewRequest(method, c.base+path, in)
	if err != nil {
		c.t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/json")
	r.Header.Set("Gaitwright-Who", url.PathEscape(c.who))
	for _, f := range change {
		f(r)
	}
	res, err := http.DefaultClient.Do(r)
	if err != nil {
		c.t.Fatal(err)
	}
	defer res.Body.Close()
	out, err := io.ReadAll(res.Body)
	if err != nil {
		c.t.Fatal(err)
	}
	return res.StatusCode, res.Header, out
}

// get asks and expects the answer to be right.
func get[T any](c *client, method, path string, body any) T {
	c.t.Helper()
	status, _, out := c.do(method, path, body)
	var v T
	if status != http.StatusOK {
		c.t.Fatalf("%s %s: %d %s", method, path, status, out)
	}
	if err := json.Unmarshal(out, &v); err != nil {
		c.t.Fatalf("%s %s: %v", method, path, err)
	}
	return v
}

// refused asks and expects a refusal with a sentence.
func (c *client) refused(want int, method, path string, body any, change ...func(*http.Request)) refusal {
	c.t.Helper()
	status, _, out := c.do(method, path, body, change...)
	var no refusal
	if err := json.Unmarshal(out, &no); err != nil || no.Error == "" || status != want {
		c.t.Errorf("%s %s: %d %s, want %d with a sentence", method, path, status, out, want)
	}
	return no
}

// begin takes in a consenting runner and begins a visit.
func (c *client) begin() (app.PageRunner, app.PageVisit) {
	c.t.Helper()
	r := get[app.PageRunner](c, "POST", "/api/runners", map[string]string{"name": "Åse (invented)"})
	day := "2026-03-14"
	height := 1.72
	r.Consent.Filming, r.Consent.Records, r.HeightM = &day, &day, &height
	r = get[app.PageRunner](c, "PUT", "/api/runners/"+r.ID, r)
	v := get[app.PageVisit](c, "POST", "/api/runners/"+r.ID+"/visits", map[string]string{})
	return r, v
}

const noID = "00000000000000000000000000"

// send uploads a file in parts as the page does.
func (c *client) send(visit, name string, data []byte) app.PageVisitClip {
	c.t.Helper()
	up := get[app.PageUpload](c, "POST", "/api/visits/"+visit+"/uploads", app.PageUploadAsk{Name: name, Size: int64(len(data))})
	const part = 1 << 20
	for at := 0; at < len(data); at += part {
		status, h, out := c.do("PATCH", "/api/uploads/"+up.Upload, data[at:min(at+part, len(data))], asPart(at))
		if status != http.StatusNoContent || h.Get(headerOffset) != strconv.Itoa(min(at+part, len(data))) {
			c.t.Fatalf("part at %d: %d %s, offset %s", at, status, out, h.Get(headerOffset))
		}
	}
	return get[app.PageVisitClip](c, "POST", "/api/uploads/"+up.Upload+"/finish", nil)
}

func asPart(at int) func(*http.Request) {
	return func(r *http.Request) {
		r.Header.Set("Content-Type", partType)
		r.Header.Set(headerOffset, strconv.Itoa(at))
	}
}

// keypointFile is a small keypoint file as the guide describes it: the invented
// figure's track of six seconds.
func keypointFile(t testing.TB) []byte {
	t.Helper()
	var b strings.Builder
	b.WriteString("# space: picture\n# view: left\n# width_px: 720\n# height_px: 1280\ntime_s")
	for _, name := range figureNames {
		fmt.Fprintf(&b, ",%s_x,%s_y", name, name)
	}
	f := film{view: "left", width: 720, height: 1280, rateHz: 120, frames: 720, strideS: 0.7, pxPerM: 480}
	for k := range f.frames {
		fmt.Fprintf(&b, "\n%.5f", f.timeS(k))
		at := f.figure(k)
		for _, name := range figureNames {
			fmt.Fprintf(&b, ",%.2f,%.2f", 360-at[name].x*f.pxPerM, 1150-at[name].y*f.pxPerM)
		}
	}
	return []byte(b.String())
}

// The whole of a visit over HTTP: from the runner to the measured clip.
func TestAWholeVisit(t *testing.T) {
	st, c := visitServer(t)
	r, v := c.begin()
	form := get[app.PageIntakeForm](c, "GET", "/api/intake/form", nil)
	intake := app.PageIntake{Signs: map[string]string{}, Goals: "run"}
	for _, s := range form.Signs {
		intake.Signs[s.ID] = "no"
	}
	v = get[app.PageVisit](c, "PUT", "/api/visits/"+v.ID+"/intake", intake)
	if v.Intake == nil || v.Intake.Version != 1 || v.Next.Code != "film_none" {
		t.Errorf("after the intake: %+v", v.Next)
	}
	clip := c.send(v.ID, "../left side.csv", keypointFile(t))
	if clip.Name != "left side.csv" || clip.Kind != "keypoints" {
		t.Errorf("clip %+v", clip)
	}
	speed := 3.1
	clip.Facts.SpeedMPS, clip.Facts.View = &speed, "left"
	clip = get[app.PageVisitClip](c, "PUT", "/api/clips/"+clip.ID, app.PageClipChange{Version: clip.Version, Facts: clip.Facts})
	if again := get[app.PageVisitClip](c, "GET", "/api/clips/"+clip.ID, nil); *again.Facts.SpeedMPS != speed || again.Version != 2 {
		t.Errorf("kept: %+v", again)
	}
	j := get[app.PageJob](c, "POST", "/api/visits/"+v.ID+"/measure", app.PageMeasureAsk{})
	ctx, stop := context.WithCancel(context.Background())
	defer stop()
	st.StartWork(ctx)
	for begun := time.Now(); j.State == "queued" || j.State == "running"; time.Sleep(20 * time.Millisecond) {
		if time.Since(begun) > 10*time.Minute {
			t.Fatal("the job does not end")
		}
		for _, one := range get[[]app.PageJob](c, "GET", "/api/jobs", nil) {
			if one.ID == j.ID {
				j = one
			}
		}
	}
	if j.State != "done" {
		t.Fatalf("job %+v", j)
	}
	v = get[app.PageVisit](c, "GET", "/api/visits/"+v.ID, nil)
	if len(v.Results) != 1 || v.Results[0].ID != j.Outcome || v.Undo != "Measured left side.csv" {
		t.Errorf("after it: %+v", v.Results)
	}
	session := get[app.PageSession](c, "GET", "/api/results/"+j.Outcome, nil)
	if session.VisitID != v.ID || session.Clips[0].Name != "left side.csv" || len(session.Clips[0].Measures) == 0 {
		t.Errorf("result %+v", session.PageSummary)
	}
	v = get[app.PageVisit](c, "POST", "/api/visits/"+v.ID+"/undo", nil)
	if len(v.Results) != 0 || v.Deed == "" || v.Redo != v.Deed {
		t.Errorf("undone: %+v", v.Results)
	}
	v = get[app.PageVisit](c, "POST", "/api/visits/"+v.ID+"/redo", nil)
	v = get[app.PageVisit](c, "DELETE", "/api/clips/"+clip.ID+"?version="+strconv.FormatInt(clip.Version, 10), nil)
	if len(v.Clips) != 0 {
		t.Error("the clip is still there")
	}
	if v = get[app.PageVisit](c, "POST", "/api/visits/"+v.ID+"/undo", nil); len(v.Clips) != 1 || v.Clips[0].Version != clip.Version {
		t.Errorf("brought back: %+v", v.Clips)
	}
	v = get[app.PageVisit](c, "PUT", "/api/visits/"+v.ID, app.PageVisitFacts{Version: v.Version, Date: "2026-03-13", Note: "windy"})
	if v.Date != "2026-03-13" || v.Note != "windy" {
		t.Errorf("visit %+v", v)
	}
	list := get[app.PageRunners](c, "GET", "/api/runners?q="+url.QueryEscape("åse")+"&from=2026-03-13&to=2026-03-13&limit=5", nil)
	if len(list.Rows) != 1 || list.Rows[0].ID != r.ID || list.Rows[0].Visits != 1 || list.Rows[0].LastVisitID != v.ID {
		t.Errorf("list %+v", list)
	}
	if r = get[app.PageRunner](c, "DELETE", fmt.Sprintf("/api/visits/%s?version=%d", v.ID, v.Version), nil); len(r.Visits) != 0 {
		t.Errorf("the visit is still there: %+v", r.Visits)
	}
	c.refused(404, "GET", "/api/visits/"+v.ID, nil)
	if v = get[app.PageVisit](c, "POST", "/api/visits/"+v.ID+"/undo", nil); v.Deed != "Removed the visit" || len(v.Clips) != 1 {
		t.Errorf("brought back: %q, %d clips", v.Deed, len(v.Clips))
	}
	if s := get[app.PageSettings](c, "PUT", "/api/settings", app.PageSettings{Studio: "  Kiesweg  "}); s.Studio != "Kiesweg" {
		t.Errorf("settings %+v", s)
	}
	if s := get[app.PageSettings](c, "GET", "/api/settings", nil); s.Studio != "Kiesweg" {
		t.Errorf("settings %+v", s)
	}
}

func TestTwoBrowsersAtTheSameVisit(t *testing.T) {
	_, laptop := visitServer(t)
	tablet := &client{t: t, base: laptop.base, who: "tablet"}
	_, v := laptop.begin()
	p := app.PageIntake{Shoes: "blue"}
	kept := get[app.PageVisit](laptop, "PUT", "/api/visits/"+v.ID+"/intake", p).Intake
	p.Shoes = "red"
	no := tablet.refused(409, "PUT", "/api/visits/"+v.ID+"/intake", p)
	if no.Version != kept.Version || !strings.Contains(no.Error, "another screen") {
		t.Errorf("the second is told %+v", no)
	}
	if got := get[app.PageVisit](tablet, "GET", "/api/visits/"+v.ID, nil); got.Intake.Shoes != "blue" {
		t.Errorf("the first's work is lost: %+v", got.Intake)
	}
	clip := laptop.send(v.ID, "a.csv", keypointFile(t))
	clip.Facts.Shoes = "blue"
	now := get[app.PageVisitClip](laptop, "PUT", "/api/clips/"+clip.ID, app.PageClipChange{Version: clip.Version, Facts: clip.Facts})
	clip.Facts.Shoes = "red"
	if no := tablet.refused(409, "PUT", "/api/clips/"+clip.ID, app.PageClipChange{Version: clip.Version, Facts: clip.Facts}); no.Version != now.Version {
		t.Errorf("the second is told %+v", no)
	}
	tablet.refused(409, "DELETE", fmt.Sprintf("/api/clips/%s?version=%d", clip.ID, clip.Version), nil)
	tablet.refused(409, "PUT", "/api/visits/"+v.ID, app.PageVisitFacts{Version: v.Version + 7, Date: "2026-03-13"})
	tablet.refused(409, "DELETE", fmt.Sprintf("/api/visits/%s?version=%d", v.ID, v.Version+7), nil)
}

func TestHostileRequests(t *testing.T) {
	_, c := visitServer(t)
	r, v := c.begin()
	clip := c.send(v.ID, "a.csv", keypointFile(t))
	plain := func(r *http.Request) { r.Header.Set("Content-Type", "text/plain") }
	elsewhere := func(r *http.Request) {
		r.Header.Set("Sec-Fetch-Site", "cross-site")
		r.Header.Set("Origin", "https://evil.example")
	}
	for _, tt := range []struct {
		want         int
		method, path string
		body         any
		change       []func(*http.Request)
	}{
		{400, "POST", "/api/runners", `{"name":"A","admin":true}`, nil},
		{400, "POST", "/api/runners", `{"name":"A"} {"name":"B"}`, nil},
		{400, "POST", "/api/runners", `{"name":`, nil},
		{400, "POST", "/api/runners", `["A"]`, nil},
		{400, "POST", "/api/runners", ``, nil},
		{415, "POST", "/api/runners", `{"name":"A"}`, []func(*http.Request){plain}},
		{403, "POST", "/api/runners", `{"name":"A"}`, []func(*http.Request){elsewhere}},
		{413, "POST", "/api/runners", `{"name":"` + strings.Repeat("A", 2<<20) + `"}`, nil},
		{422, "POST", "/api/runners", `{"name":" "}`, nil},
		{404, "GET", "/api/runners/" + noID, nil, nil},
		{404, "GET", "/api/runners/..%2f..%2fetc", nil, nil},
		{404, "GET", "/api/runners/" + strings.ToLower(r.ID), nil, nil},
		{404, "PUT", "/api/runners/" + noID, `{"name":"A"}`, nil},
		{400, "PUT", "/api/runners/" + r.ID + "?visit=x", `{"name":"A"}`, nil},
		{422, "PUT", "/api/runners/" + r.ID + "?visit=" + noID, `{"name":"A","version":2}`, nil},
		{400, "GET", "/api/runners?limit=-1", nil, nil},
		{400, "GET", "/api/runners?limit=9999999999999999999999", nil, nil},
		{422, "GET", "/api/runners?from=1.2.2026", nil, nil},
		{422, "GET", "/api/runners?q=" + strings.Repeat("a", 500), nil, nil},
		{404, "POST", "/api/runners/" + noID + "/visits", `{}`, nil},
		{422, "POST", "/api/runners/" + r.ID + "/visits", `{"date":"2099-01-01"}`, nil},
		{404, "GET", "/api/visits/" + noID, nil, nil},
		{404, "GET", "/api/visits/x", nil, nil},
		{404, "PUT", "/api/visits/" + noID + "/intake", `{}`, nil},
		{400, "PUT", "/api/visits/" + v.ID + "/intake", `{"diagnosis":"x"}`, nil},
		{400, "PUT", "/api/visits/" + v.ID + "/intake", `{"pain":[{"score":2.5}]}`, nil},
		{422, "PUT", "/api/visits/" + v.ID, `{"version":1}`, nil},
		{400, "DELETE", "/api/visits/" + v.ID, nil, nil},
		{404, "POST", "/api/visits/" + noID + "/undo", nil, nil},
		{422, "POST", "/api/visits/" + v.ID + "/redo", nil, nil},
		{404, "POST", "/api/visits/" + noID + "/measure", `{}`, nil},
		{422, "POST", "/api/visits/" + v.ID + "/measure", `{"clips":["` + noID + `"]}`, nil},
		{422, "POST", "/api/visits/" + v.ID + "/measure", `{"model":"../../model"}`, nil},
		{404, "GET", "/api/clips/" + noID, nil, nil},
		{404, "PUT", "/api/clips/" + noID, `{}`, nil},
		{422, "PUT", "/api/clips/" + clip.ID, `{"version":1,"facts":{"view":"above"}}`, nil},
		{422, "PUT", "/api/clips/" + clip.ID, `{"version":1,"facts":{"speed_mps":90}}`, nil},
		{422, "PUT", "/api/clips/" + clip.ID, `{"version":1,"facts":{"scale":{"x1":0,"y1":0,"x2":100,"y2":0,"length_m":1}}}`, nil},
		{422, "PUT", "/api/clips/" + clip.ID, `{"version":1,"facts":{"start_s":2,"end_s":1}}`, nil},
		{422, "PUT", "/api/clips/" + clip.ID, `{"version":1,"facts":{"belt":{"length_m":3,"seam_times_s":[1,0.5]}}}`, nil},
		{422, "PUT", "/api/clips/" + clip.ID, `{"version":1,"facts":{"static_of":"` + clip.ID + `"}}`, nil},
		{422, "GET", "/api/clips/" + clip.ID + "/belt", nil, nil},
		{404, "GET", "/api/clips/" + clip.ID + "/frames/0", nil, nil}, // keypoints have no pictures
		{404, "GET", "/api/clips/" + noID + "/frames/0", nil, nil},
		{404, "GET", "/api/clips/" + clip.ID + "/frames/-1", nil, nil},
		{404, "GET", "/api/clips/" + clip.ID + "/frames/00", nil, nil},
		{404, "GET", "/api/clips/" + clip.ID + "/times", nil, nil},
		{404, "GET", "/api/clips/" + clip.ID + "/poster", nil, nil},
		{404, "POST", "/api/jobs/" + noID + "/cancel", nil, nil},
		{404, "POST", "/api/visits/" + noID + "/uploads", `{"name":"a","size":1}`, nil},
		{413, "POST", "/api/visits/" + v.ID + "/uploads", `{"name":"a","size":99999999999}`, nil},
		{400, "POST", "/api/visits/" + v.ID + "/uploads", `{"name":"a","size":1.5}`, nil},
		{404, "PATCH", "/api/uploads/" + noID, "x", []func(*http.Request){asPart(0)}},
		{404, "PATCH", "/api/uploads/..%2f..%2fstudio.db", "x", []func(*http.Request){asPart(0)}},
		{400, "PATCH", "/api/uploads/" + noID, "x", []func(*http.Request){asPart(-1)}},
		{415, "PATCH", "/api/uploads/" + noID, "x", nil},
		{404, "DELETE", "/api/uploads/" + noID, nil, nil},
		{404, "POST", "/api/uploads/" + noID + "/finish", nil, nil},
		{422, "GET", "/api/runners?after=nowhere", nil, nil},
		{422, "PUT", "/api/settings", `{"studio":"` + strings.Repeat("s", 500) + `"}`, nil},
	} {
		c.refused(tt.want, tt.method, tt.path, tt.body, tt.change...)
	}
	for _, path := range []string{"/api/runners", "/api/visits/" + v.ID} {
		if status, _, _ := c.do("PATCH", path, nil); status != http.StatusMethodNotAllowed && status != http.StatusNotFound {
			t.Errorf("PATCH %s: %d", path, status)
		}
	}
	// None of it left anything.
	if got := get[app.PageVisit](c, "GET", "/api/visits/"+v.ID, nil); got.Undo != "Took in a.csv" || got.Version != v.Version || got.Runner.Version != r.Version {
		t.Errorf("something was changed: %+v", got)
	}
}

func TestAnUploadOverABrokenConnection(t *testing.T) {
	_, c := visitServer(t)
	_, v := c.begin()
	data := keypointFile(t)
	up := get[app.PageUpload](c, "POST", "/api/visits/"+v.ID+"/uploads", app.PageUploadAsk{Name: "a.csv", Size: int64(len(data))})
	// A connection that breaks in the middle of a part: what came counts.
	half := len(data) / 2
	conn, err := net.Dial("tcp", strings.TrimPrefix(c.base, "http://"))
	if err != nil {
		t.Fatal(err)
	}
	fmt.Fprintf(conn, "PATCH /api/uploads/%s HTTP/1.1\r\nHost: localhost\r\nContent-Type: %s\r\n%s: 0\r\nContent-Length: %d\r\n\r\n", up.Upload, partType, headerOffset, len(data))
	conn.Write(data[:half])
	conn.Close()
	var offset int
	for begun := time.Now(); offset != half; time.Sleep(10 * time.Millisecond) {
		status, h, _ := c.do("HEAD", "/api/uploads/"+up.Upload, nil)
		if offset, err = strconv.Atoi(h.Get(headerOffset)); err != nil || status != 200 || h.Get(headerLength) != strconv.Itoa(len(data)) {
			t.Fatalf("asked how much has arrived: %d, %v", status, h)
		}
		if time.Since(begun) > 10*time.Minute {
			t.Fatalf("%d bytes have arrived, %d were sent", offset, half)
		}
	}
	// The broken connection may still hold the file for a moment.
	part := func(data []byte, offset int) (status int, h http.Header, out []byte) {
		t.Helper()
		for begun := time.Now(); time.Since(begun) < 10*time.Minute; time.Sleep(20 * time.Millisecond) {
			if status, h, out = c.do("PATCH", "/api/uploads/"+up.Upload, data, asPart(offset)); status != http.StatusServiceUnavailable {
				break
			}
		}
		return status, h, out
	}
	if status, h, out := part(data, 0); status != http.StatusConflict || h.Get(headerOffset) != strconv.Itoa(half) {
		t.Errorf("a wrong offset is answered with %d, %q, %s", status, h.Get(headerOffset), out)
	}
	c.refused(409, "PATCH", "/api/uploads/"+up.Upload, data, asPart(0))
	c.refused(422, "POST", "/api/uploads/"+up.Upload+"/finish", nil)
	c.refused(413, "PATCH", "/api/uploads/"+up.Upload, make([]byte, app.MaxPartBytes+1), asPart(half))
	status, h, out := part(data[half:], half)
	if status != http.StatusNoContent || h.Get(headerOffset) != strconv.Itoa(len(data)) {
		t.Fatalf("the rest: %d %s", status, out)
	}
	if clip := get[app.PageVisitClip](c, "POST", "/api/uploads/"+up.Upload+"/finish", nil); clip.Bytes != int64(len(data)) {
		t.Errorf("clip %+v", clip)
	}
	up = get[app.PageUpload](c, "POST", "/api/visits/"+v.ID+"/uploads", app.PageUploadAsk{Name: "b.csv", Size: 10})
	if status, _, _ := c.do("DELETE", "/api/uploads/"+up.Upload, nil); status != http.StatusNoContent {
		t.Errorf("given up: %d", status)
	}
	c.refused(404, "GET", "/api/uploads/"+up.Upload, nil)
}

func TestNoFilmWithoutConsent(t *testing.T) {
	_, c := visitServer(t)
	r := get[app.PageRunner](c, "POST", "/api/runners", map[string]string{"name": "Ada (invented)"})
	v := get[app.PageVisit](c, "POST", "/api/runners/"+r.ID+"/visits", map[string]string{})
	no := c.refused(412, "POST", "/api/visits/"+v.ID+"/uploads", app.PageUploadAsk{Name: "a.mp4", Size: 10})
	if !strings.Contains(no.Error, "has not agreed to be filmed") {
		t.Errorf("it says %q", no.Error)
	}
}

// nextEvent reads server-sent events until one has the name.
func nextEvent(t *testing.T, r *bufio.Reader, name string) string {
	t.Helper()
	for {
		line, err := r.ReadString('\n')
		if err != nil {
			t.Fatalf("the events ended before %s: %v", name, err)
		}
		if strings.TrimSpace(line) == "event: "+name {
			data, err := r.ReadString('\n')
			if err != nil {
				t.Fatal(err)
			}
			return strings.TrimSpace(strings.TrimPrefix(data, "data: "))
		}
	}
}

func TestEventsReachTheOtherScreen(t *testing.T) {
	_, c := visitServer(t)
	_, v := c.begin()
	ctx, stop := context.WithTimeout(context.Background(), 5*time.Minute)
	defer stop()
	r, err := http.NewRequestWithContext(ctx, "GET", c.base+"/api/events", nil)
	if err != nil {
		t.Fatal(err)
	}
	res, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	if res.Header.Get("Content-Type") != "text/event-stream" || res.Header.Get("Content-Security-Policy") == "" {
		t.Errorf("headers %v", res.Header)
	}
	lines := bufio.NewReader(res.Body)
	if first, err := lines.ReadString('\n'); err != nil || !strings.HasPrefix(first, "retry:") {
		t.Fatalf("it begins with %q, %v", first, err)
	}
	c.who = "Zoë's tablet"
	get[app.PageVisit](c, "PUT", "/api/visits/"+v.ID+"/intake", app.PageIntake{Shoes: "blue"})
	var touched app.PageTouched
	if err := json.Unmarshal([]byte(nextEvent(t, lines, "visit")), &touched); err != nil || touched.ID != v.ID || touched.Who != c.who {
		t.Errorf("told %+v, %v", touched, err)
	}
	c.send(v.ID, "a.csv", keypointFile(t))
	get[app.PageJob](c, "POST", "/api/visits/"+v.ID+"/measure", app.PageMeasureAsk{})
	var j app.PageJob
	if err := json.Unmarshal([]byte(nextEvent(t, lines, "job")), &j); err != nil || j.VisitID != v.ID || j.State != "queued" {
		t.Errorf("told %+v, %v", j, err)
	}
}

// A form that stops in the middle of its way is told so, not called a fault of its words.
func TestAFormThatStopsOnItsWay(t *testing.T) {
	for name, c := range map[string]struct {
		err    error
		status int
		words  string
	}{
		"too late": {os.ErrDeadlineExceeded, http.StatusRequestTimeout, "Send it again"},
		"cut off":  {io.ErrUnexpectedEOF, http.StatusBadRequest, "cannot be understood"},
	} {
		r := httptest.NewRequest("POST", "/api/runners", io.MultiReader(strings.NewReader(`{"na`), iotest.ErrReader(c.err)))
		r.Header.Set("Content-Type", "application/json")
		var bad *badBody
		if err := read(r, &struct{}{}); !errors.As(err, &bad) || bad.status != c.status || !strings.Contains(bad.text, c.words) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// A page that does not read is let go, and holds nobody up.
func TestASlowPageHoldsNobodyUp(t *testing.T) {
	st, c := visitServer(t)
	_, v := c.begin()
	events, leave := st.Events()
	defer leave()
	for range 200 { // more than a page may be behind
		get[app.PageVisit](c, "POST", "/api/runners/"+v.Runner.ID+"/visits", map[string]string{})
	}
	n := 0
	for range events { // ends because it was closed
		n++
	}
	if n == 0 || n >= 200 {
		t.Errorf("%d events were held for it", n)
	}
}

// Events go on beyond the time that a request and its answer may take.
func TestEventsOutliveTheTimeouts(t *testing.T) {
	const within = 300 * time.Millisecond
	srv := httptest.NewUnstartedServer(New(emptyStudio(t), Options{Log: quiet()}).Handler())
	srv.Config.ReadTimeout, srv.Config.WriteTimeout = within, within
	srv.Start()
	t.Cleanup(srv.Close)
	// On a busy machine even the asking may take longer than that; then it is asked again.
	patiently := func(what string, ask func() (*http.Response, error)) *http.Response {
		for begun := time.Now(); ; time.Sleep(within) {
			res, err := ask()
			if err == nil {
				t.Cleanup(func() { res.Body.Close() })
				return res
			}
			if time.Since(begun) > 10*time.Minute {
				t.Fatalf("%s: %v", what, err)
			}
		}
	}
	events := patiently("the events", func() (*http.Response, error) { return http.Get(srv.URL + eventsPath) })
	lines := bufio.NewReader(events.Body)
	if first, err := lines.ReadString('\n'); err != nil || !strings.HasPrefix(first, "retry:") {
		t.Fatalf("it begins with %q, %v", first, err)
	}
	time.Sleep(2 * within)
	patiently("a runner", func() (*http.Response, error) {
		return http.Post(srv.URL+"/api/runners", "application/json", strings.NewReader(`{"name":"Ada"}`))
	})
	nextEvent(t, lines, "runner")
}

// Events end when the server is told to stop.
func TestEventsEndWithTheServer(t *testing.T) {
	s := New(emptyStudio(t), Options{Log: quiet()})
	if err := s.Listen(); err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- s.Run(ctx) }()
	res, err := http.Get(s.URL() + "api/events")
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	stop()
	// Were the page to hold the server up, it would be cut off in the end.
	if _, err := io.ReadAll(res.Body); err != nil {
		t.Errorf("the events broke off: %v", err)
	}
	if err := <-done; err != nil {
		t.Errorf("the server: %v", err)
	}
}

// BenchmarkOpenVisit opens a visit with an intake, two clips and two results of a
// runner with ten visits, over HTTP.
func BenchmarkOpenVisit(b *testing.B) {
	st, c := visitServer(b)
	r, v := c.begin()
	get[app.PageVisit](c, "PUT", "/api/visits/"+v.ID+"/intake", app.PageIntake{Goals: "run"})
	clip := c.send(v.ID, "a.csv", keypointFile(b))
	ctx, stop := context.WithCancel(context.Background())
	defer stop()
	st.StartWork(ctx)
	for range 2 {
		j := get[app.PageJob](c, "POST", "/api/visits/"+v.ID+"/measure", app.PageMeasureAsk{Clips: []string{clip.ID}})
		for done := false; !done; time.Sleep(10 * time.Millisecond) {
			for _, one := range get[[]app.PageJob](c, "GET", "/api/jobs", nil) {
				done = done || one.ID == j.ID && one.State == "done"
			}
		}
	}
	for range 9 {
		get[app.PageVisit](c, "POST", "/api/runners/"+r.ID+"/visits", map[string]string{})
	}
	b.ResetTimer()
	for b.Loop() {
		get[app.PageVisit](c, "GET", "/api/visits/"+v.ID, nil)
	}
}
