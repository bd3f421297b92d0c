// Package watch serves the live page: sheets beside their curves, with the figure that moves as they say, in a browser on
// the same machine, anew as soon as a file changes. All that moves is worked out by lint/motion and sent as places in the
// world; the page only draws. No request leaves the machine: the page is served on a loopback address, behind a token that
// nobody can guess, and its browser is told to load nothing from elsewhere.
package watch

import (
	"crypto/rand"
	"crypto/subtle"
	"embed"
	"encoding/json"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"github.com/motet-sheet/motet/lint"
	"github.com/motet-sheet/motet/lint/draw"
	"github.com/motet-sheet/motet/lint/motion"
)

//go:embed *.html *.css *.js
var files embed.FS

// Sheet is a sheet that the page can show.
type Sheet struct {
	Path     string // as people call it
	Motion   *motion.Motion
	Findings func() []lint.Finding // worked out when they are first asked for, since the figure need not wait for them
}

// Source reads the sheets as they are now, in the order of their paths, and names the folders in which a change could
// change them.
type Source func() (sheets []Sheet, folders []string, err error)

// Page is the live page. It is safe for use by several goroutines.
type Page struct {
	source  Source
	token   string
	mu      sync.Mutex
	now     reading
	readers map[chan struct{}]bool // each told that there is something new
}

// reading is what the source gave last.
type reading struct {
	version int
	sheets  []Sheet
	folders []string
	problem string
}

// New makes a page of what the source gives.
func New(source Source) *Page {
	p := &Page{source: source, token: rand.Text(), readers: map[chan struct{}]bool{}}
	p.Refresh()
	return p
}

// Path is the page's address below its server's, with the token.
func (p *Page) Path() string { return "/" + p.token + "/" }

// Refresh reads the sheets again and tells every open page.
func (p *Page) Refresh() {
	sheets, folders, err := p.source()
	p.mu.Lock()
	defer p.mu.Unlock()
	next := reading{version: p.now.version + 1, sheets: sheets, folders: folders}
	if err != nil {
		// What could be read before stays to be looked at.
		next.sheets, next.folders, next.problem = p.now.sheets, p.now.folders, err.Error()
	}
	p.now = next
	for reader := range p.readers {
		select {
		case reader <- struct{}{}:
		default: // It has not read the last one yet, and will find this one with it.
		}
	}
}

func (p *Page) reading() reading {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.now
}

// Handler serves the page to browsers that call the server by one of some hosts, such as 127.0.0.1:4000.
func (p *Page) Handler(hosts ...string) http.Handler {
	mux := http.NewServeMux()
	static := http.FileServerFS(files)
	mux.HandleFunc("GET /{$}", func(w http.ResponseWriter, r *http.Request) {
		http.ServeFileFS(w, r, files, "page.html")
	})
	mux.Handle("GET /page.css", static)
	for _, script := range []string{"page.js", "figure.js", "strips.js", "sheet.js", "family.js"} {
		mux.Handle("GET /"+script, static)
	}
	mux.HandleFunc("GET /inks.css", inks)
	mux.HandleFunc("GET /sheets", p.list)
	mux.HandleFunc("GET /sheet/{number}", p.sheet)
	mux.HandleFunc("GET /levels", p.levels)
	mux.HandleFunc("GET /family", p.family)
	mux.HandleFunc("GET /changes", p.changes)
	return p.guarded(hosts, mux)
}

// guarded lets through only what the page itself asks: the right host keeps out names that somebody has pointed at this
// machine, the origin other pages, and the token everybody else.
func (p *Page) guarded(hosts []string, next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		header := w.Header()
		header.Set("Content-Security-Policy", "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'")
		header.Set("X-Content-Type-Options", "nosniff")
		header.Set("Referrer-Policy", "no-referrer")
		header.Set("Cross-Origin-Resource-Policy", "same-origin")
		header.Set("Cross-Origin-Opener-Policy", "same-origin")
		header.Set("Cache-Control", "no-store")
		origin, site := r.Header.Get("Origin"), r.Header.Get("Sec-Fetch-Site")
		switch {
		case !slices.Contains(hosts, r.Host):
			http.Error(w, "this is not the host that motet watch said", http.StatusForbidden)
			return
		case origin != "" && origin != "http://"+r.Host, site != "" && site != "same-origin" && site != "none":
			http.Error(w, "another page asks", http.StatusForbidden)
			return
		}
		token, rest, _ := strings.Cut(strings.TrimPrefix(r.URL.Path, "/"), "/")
		if subtle.ConstantTimeCompare([]byte(token), []byte(p.token)) != 1 {
			http.Error(w, "open the address that motet watch printed; it has a token of its own each time", http.StatusForbidden)
			return
		}
		inner := r.Clone(r.Context())
		inner.URL.Path, inner.URL.RawPath = "/"+rest, ""
		next.ServeHTTP(w, inner)
	})
}

// inks tells the page the colors of pictures, for light and for dark screens.
func inks(w http.ResponseWriter, _ *http.Request) {
	w.Header().Set("Content-Type", "text/css; charset=utf-8")
	_, _ = fmt.Fprintf(w, ":root{color-scheme:light dark;%s}\n@media (prefers-color-scheme:dark){:root{%s}}\n", draw.Light().CSS(), draw.Dark().CSS())
}

// toldSheet is a sheet in the list.
type toldSheet struct {
	Name  string `json:"name"`
	Path  string `json:"path"`
	Whole bool   `json:"whole"`
}

func (p *Page) list(w http.ResponseWriter, _ *http.Request) {
	now := p.reading()
	told := struct {
		Version int         `json:"version"`
		Problem string      `json:"problem,omitempty"`
		Sheets  []toldSheet `json:"sheets"`
	}{now.version, now.problem, []toldSheet{}}
	for _, s := range now.sheets {
		t := toldSheet{Name: s.Path, Path: s.Path, Whole: s.Motion.Whole()}
		if s.Motion.Sheet != nil && s.Motion.Sheet.Name != "" {
			t.Name = s.Motion.Sheet.Name
		}
		told.Sheets = append(told.Sheets, t)
	}
	answer(w, told)
}

// levels tells the worst level of each sheet's findings, in the order of the list.
func (p *Page) levels(w http.ResponseWriter, _ *http.Request) {
	out := []string{}
	for _, s := range p.reading().sheets {
		worst := lint.Off
		for _, f := range s.Findings() {
			worst = max(worst, f.Level)
		}
		out = append(out, worst.String())
	}
	answer(w, out)
}

func (p *Page) sheet(w http.ResponseWriter, r *http.Request) {
	now := p.reading()
	i, err := strconv.Atoi(r.PathValue("number"))
	if err != nil || i < 0 || i >= len(now.sheets) {
		http.Error(w, "there is no such sheet", http.StatusNotFound)
		return
	}
	answer(w, tell(&now.sheets[i]))
}

func (p *Page) family(w http.ResponseWriter, _ *http.Request) {
	answer(w, tellFamily(p.reading().sheets))
}

func answer(w http.ResponseWriter, value any) {
	text, err := json.Marshal(value)
	if err != nil {
		http.Error(w, err.Error(), http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	_, _ = w.Write(text) // Whoever asked may have left.
}

// stillThere is how often an open page hears that its server lives.
const stillThere = 20 * time.Second

// changes tells a page, as server-sent events, each version that there is.
func (p *Page) changes(w http.ResponseWriter, r *http.Request) {
	reader := make(chan struct{}, 1)
	p.mu.Lock()
	p.readers[reader] = true
	p.mu.Unlock()
	defer func() {
		p.mu.Lock()
		delete(p.readers, reader)
		p.mu.Unlock()
	}()
	w.Header().Set("Content-Type", "text/event-stream")
	flusher := http.NewResponseController(w)
	beat := time.NewTicker(stillThere)
	defer beat.Stop()
	for {
		if _, err := fmt.Fprintf(w, "data: %d\n\n", p.reading().version); err != nil || flusher.Flush() != nil {
			return
		}
		select {
		case <-r.Context().Done():
			return
		case <-reader:
		case <-beat.C:
		}
	}
}
