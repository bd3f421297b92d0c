package watch

import (
	"bufio"
	"encoding/json"
	"errors"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const host = "127.0.0.1:4000"

// ask asks a page for something, as a request that change may alter.
func ask(page *Page, path string, change func(*http.Request)) *httptest.ResponseRecorder {
	r := httptest.NewRequest(http.MethodGet, "http://"+host+path, nil)
	if change != nil {
		change(r)
	}
	w := httptest.NewRecorder()
	page.Handler(host).ServeHTTP(w, r)
	return w
}

func TestWhoMayAsk(t *testing.T) {
	_, source := quay(t)
	page := New(source, nil)
	path := page.Path()
	tests := map[string]struct {
		path   string
		change func(*http.Request)
		want   int
	}{
		"the page itself":                   {path, nil, http.StatusOK},
		"its data":                          {path + "sheets", func(r *http.Request) { r.Header.Set("Origin", "http://"+host) }, http.StatusOK},
		"a browser's own fetch":             {path + "sheet?path=keeper.motet", func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "same-origin") }, http.StatusOK},
		"no token":                          {"/", nil, http.StatusForbidden},
		"a wrong token":                     {"/" + strings.Repeat("A", 26) + "/", nil, http.StatusForbidden},
		"half a token":                      {path[:10] + "/", nil, http.StatusForbidden},
		"another host":                      {path, func(r *http.Request) { r.Host = "quay.example:4000" }, http.StatusForbidden},
		"another port":                      {path, func(r *http.Request) { r.Host = "127.0.0.1:4001" }, http.StatusForbidden},
		"another origin":                    {path + "sheets", func(r *http.Request) { r.Header.Set("Origin", "http://quay.example") }, http.StatusForbidden},
		"no origin to speak of":             {path + "sheets", func(r *http.Request) { r.Header.Set("Origin", "null") }, http.StatusForbidden},
		"another site":                      {path + "sheets", func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "cross-site") }, http.StatusForbidden},
		"another way to ask":                {path + "sheets", func(r *http.Request) { r.Method = http.MethodPost }, http.StatusMethodNotAllowed},
		"a line to open, where nothing can": {path + "open?path=keeper.motet&line=1", func(r *http.Request) { r.Method = http.MethodPost }, http.StatusNotFound},
		"a line to open, from another page": {path + "open?path=keeper.motet&line=1", func(r *http.Request) { r.Method = http.MethodPost; r.Header.Set("Origin", "http://quay.example") }, http.StatusForbidden},
		"a line to open, by a link":         {path + "open?path=keeper.motet&line=1", nil, http.StatusMethodNotAllowed},
		"a file above":                      {path + "../watch.go", nil, http.StatusTemporaryRedirect},
		"the program's own files":           {path + "watch.go", nil, http.StatusNotFound},
		"a sheet that is not there":         {path + "sheet?path=nobody.motet", nil, http.StatusNotFound},
		"no sheet at all":                   {path + "sheet", nil, http.StatusNotFound},
	}
	for name, test := range tests {
		t.Run(name, func(t *testing.T) {
			w := ask(page, test.path, test.change)
			assert.Equal(t, test.want, w.Code)
			assert.Contains(t, w.Header().Get("Content-Security-Policy"), "default-src 'none'")
			assert.Equal(t, "nosniff", w.Header().Get("X-Content-Type-Options"))
		})
	}
}

func TestEveryPageHasATokenOfItsOwn(t *testing.T) {
	_, source := quay(t)
	a, b := New(source, nil), New(source, nil)
	assert.NotEqual(t, a.Path(), b.Path())
	assert.GreaterOrEqual(t, len(strings.Trim(a.Path(), "/")), 26, "128 bits in base32 are 26 letters (RFC 4648)")
}

// TestWhatASheetTells compares what the page gets with the keeper's own text and with the engine.
func TestWhatASheetTells(t *testing.T) {
	_, source := quay(t)
	page := New(source, nil)
	sheets, _, err := source(Ask{})
	require.NoError(t, err)
	n := 0
	for sheets[n].Path != "keeper.motet" {
		n++
	}
	var got struct {
		Name   string
		Text   []string
		Motion struct {
			Rate, Beat, Length float64
			Closed             bool
			Count              int
			Feet               []struct{ Planted string }
		}
		Rows []struct {
			Line   int
			Frames float64
		}
		Strips []struct {
			Path   string
			Values []float64
			Keys   []struct {
				Frames float64
				Line   int
			}
		}
	}
	require.NoError(t, json.Unmarshal(ask(page, page.Path()+"sheet?path=keeper.motet", nil).Body.Bytes(), &got))
	assert.Equal(t, "keeper-wait", got.Name)
	// Six beats of 18 frames, as the sheet's own comments say.
	assert.Equal(t, []float64{24, 18, 108}, []float64{got.Motion.Rate, got.Motion.Beat, got.Motion.Length})
	assert.True(t, got.Motion.Closed)
	for _, foot := range got.Motion.Feet {
		assert.Equal(t, strings.Repeat("1", 108), foot.Planted, "she stands on both feet all the time")
	}
	for _, row := range got.Rows {
		assert.Regexp(t, `^  [0-9]`, got.Text[row.Line], "a row starts with its time")
	}
	strip := got.Strips[0]
	require.Equal(t, "hips/side", strip.Path)
	channel := sheets[n].Motion.Channel("hips/side")
	for i := range 108 {
		assert.InDelta(t, channel.At(float64(i)), strip.Values[i], 1e-5)
	}
	for _, key := range strip.Keys {
		assert.Contains(t, got.Text[key.Line], "on-", "the key comes from a row of the blocking")
	}
}

func TestWhatCannotBeReadLeavesWhatWas(t *testing.T) {
	_, source := quay(t)
	broken := false
	page := New(func(ask Ask) ([]Sheet, []string, error) {
		if broken {
			return nil, nil, errors.New("the tide took it")
		}
		return source(ask)
	}, nil)
	broken = true
	page.Refresh()
	body := ask(page, page.Path()+"sheets", nil).Body.String()
	assert.Contains(t, body, `"problem":"the tide took it"`)
	assert.Contains(t, body, "keeper-wait")
}

// TestManySavesLeaveNothingBehind saves a sheet many times under an open page, and looks at what is left of it.
func TestManySavesLeaveNothingBehind(t *testing.T) {
	folder, _ := quay(t)
	page, host := serve(t, func(Ask) ([]Sheet, []string, error) {
		return []Sheet{}, []string{folder}, nil // what a sheet means is not what is measured
	}, nil)
	response, err := http.Get("http://" + host + page.Path() + "changes")
	require.NoError(t, err)
	defer func() { _ = response.Body.Close() }()
	lines := bufio.NewReader(response.Body)
	hear := func(version int) { // of this version, or of a newer one, since a list that nobody has read yet is left out
		for told := (toldList{}); told.Version < version; {
			line, err := lines.ReadString('\n')
			require.NoError(t, err)
			if data, isData := strings.CutPrefix(line, "data: "); isData {
				require.NoError(t, json.Unmarshal([]byte(data), &told))
			}
		}
	}
	save := func(times int) {
		for range times {
			page.Refresh()
			hear(page.reading().version)
		}
	}
	save(100)
	memory, routines := used(), runtime.NumGoroutine()
	save(10_000)
	assert.LessOrEqual(t, runtime.NumGoroutine(), routines+2)
	assert.Less(t, used(), memory+1<<20, "less than 1 MB more after 10 000 saves")

	before := page.reading().version
	require.NoError(t, os.WriteFile(filepath.Join(folder, "keeper.motet"), []byte("sheet keeper-wait\n"), 0o666))
	hear(before + 1) // a file that really changes is heard of too
}

func used() uint64 {
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return m.HeapAlloc
}

// TestReadersLeave holds that a page that is closed is forgotten.
func TestReadersLeave(t *testing.T) {
	_, source := quay(t)
	page, host := serve(t, source, nil)
	response, err := http.Get("http://" + host + page.Path() + "changes")
	require.NoError(t, err)
	_, err = io.ReadAtLeast(response.Body, make([]byte, 8), 8)
	require.NoError(t, err)
	require.NoError(t, response.Body.Close())
	require.Eventually(t, func() bool {
		page.mu.Lock()
		defer page.mu.Unlock()
		return len(page.readers) == 0
	}, time.Minute, 10*time.Millisecond)
}
