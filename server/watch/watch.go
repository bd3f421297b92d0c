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
	Path     string // as people call it; tells sheets apart
	Root     string // the folder of its project, in which its rig's model lies; empty where there is none
	Motion   *motion.Motion
	Findings func() []lint.Finding // worked out when they are first asked for, since the figure need not wait for them
}

// Source reads the sheets as they are now, in the order of their paths, and names the folders in which a change could
// change them.
type Source func(Ask) (sheets []Sheet, folders []string, err error)

// Ask is what a page wants to know.
type Ask struct {
	Changed []string // files that have changed, by their full paths, as far as that is known; others may have too
	First   bool     // only the sheets in those files need be as they are now; all others may be as they were
}

// May tells whether what stands in a file may be given as it was.
func (a Ask) May(path string) bool { return a.First && !slices.Contains(a.Changed, path) }

// Page is the live page. It is safe for use by several goroutines.
type Page struct {
	source  Source
	opener  Opener // nil where there is no editor
	token   string
	reads   sync.Mutex // held while the source reads, so that an older answer never follows a newer one
	mu      sync.Mutex // guards the lines below
	now     reading
	place   place
	readers map[chan struct{}]bool // each told that there is something new
	sampled map[string]*motion.Sampled
	gone    map[string]time.Time // when sheets were first missed
}

// grace is how long a sheet that is no longer there is shown. Many programs empty a file, or take it away, before they write it
// anew, and on a busy machine that takes a while; the page would lose the sheet and the moment.
const grace = 300 * time.Millisecond

// reading is what the source gave last.
type reading struct {
	version int
	sheets  []Sheet
	since   map[string]int // the version since which a sheet has been as it is
	folders []string
	problem string
}

// New makes a page of what the source gives. Opener opens lines in an editor; nil where that can't be done.
func New(source Source, opener Opener) *Page {
	p := &Page{source: source, opener: opener, token: rand.Text(), readers: map[chan struct{}]bool{}, sampled: map[string]*motion.Sampled{}, gone: map[string]time.Time{}}
	p.Refresh()
	return p
}

// Path is the page's address below its server's, with the token.
func (p *Page) Path() string { return "/" + p.token + "/" }

// Refresh reads the sheets again, of which some files are known to have changed, and tells every open page: first of the
// sheets in these files, since one of them is what somebody works on, and then of all that depend on them.
func (p *Page) Refresh(changed ...string) {
	p.reads.Lock()
	defer p.reads.Unlock()
	if len(changed) > 0 {
		p.read(Ask{changed, true})
	}
	p.read(Ask{changed, false})
}

func (p *Page) read(ask Ask) {
	sheets, folders, err := p.source(ask)
	p.mu.Lock()
	defer p.mu.Unlock()
	next := reading{version: p.now.version + 1, sheets: sheets, folders: folders}
	if err != nil {
		// What could be read before stays to be looked at.
		next.sheets, next.folders, next.problem = p.now.sheets, p.now.folders, err.Error()
	}
	next.sheets = p.keepMissed(next.sheets)
	next.since = make(map[string]int, len(next.sheets))
	before := make(map[string]*motion.Motion, len(p.now.sheets))
	for i := range p.now.sheets {
		before[p.now.sheets[i].Path] = p.now.sheets[i].Motion
	}
	for i := range next.sheets {
		s := &next.sheets[i]
		if next.since[s.Path] = next.version; sameFigure(before[s.Path], s.Motion) {
			next.since[s.Path] = p.now.since[s.Path]
		}
	}
	for path := range p.sampled {
		if _, there := next.since[path]; !there {
			delete(p.sampled, path)
		}
	}
	p.now = next
	p.tell()
}

// keepMissed puts sheets that have only just gone back where they were, and sees to it that they are looked for again. The
// mutex is held.
func (p *Page) keepMissed(sheets []Sheet) []Sheet {
	there := make(map[string]bool, len(sheets))
	for i := range sheets {
		there[sheets[i].Path] = true
		delete(p.gone, sheets[i].Path)
	}
	for i := range p.now.sheets {
		s := p.now.sheets[i]
		if there[s.Path] {
			continue
		}
		missed, known := p.gone[s.Path]
		switch {
		case !known:
			p.gone[s.Path] = time.Now()
			time.AfterFunc(grace, func() { p.Refresh() })
		case time.Since(missed) >= grace:
			delete(p.gone, s.Path)
			continue
		}
		sheets = slices.Insert(slices.Clip(sheets), min(i, len(sheets)), s)
	}
	return sheets
}

// sameFigure tells whether two motions read and move the same, since they rest on the same texts.
func sameFigure(a, b *motion.Motion) bool {
	return a == b || a != nil && b != nil && a.File == b.File && slices.Equal(a.Linked, b.Linked)
}

// tell wakes all who look at the page. The mutex is held.
func (p *Page) tell() {
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
	for _, script := range []string{"page.js", "figure.js", "strips.js", "sheet.js", "family.js", "model.bundle.js"} {
		mux.Handle("GET /"+script, static)
	}
	mux.HandleFunc("GET /inks.css", inks)
	mux.HandleFunc("GET /sheets", p.list)
	mux.HandleFunc("GET /sheet", p.sheet)
	mux.HandleFunc("GET /faults", p.faults)
	mux.HandleFunc("GET /model", p.model)
	mux.HandleFunc("GET /levels", p.levels)
	mux.HandleFunc("GET /family", p.family)
	mux.HandleFunc("GET /changes", p.changes)
	mux.HandleFunc("POST /open", p.open)
	return p.guarded(hosts, mux)
}

// guarded lets through only what the page itself asks: the right host keeps out names that somebody has pointed at this
// machine, the origin other pages, and the token everybody else.
func (p *Page) guarded(hosts []string, next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		header := w.Header()
		// A model brings its pictures inside itself, and they are read as blobs.
		header.Set("Content-Security-Policy", "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self' blob: data:; img-src blob: data:; base-uri 'none'; form-action 'none'; frame-ancestors 'none'")
		header.Set("X-Content-Type-Options", "nosniff")
		header.Set("Referrer-Policy", "no-referrer")
		header.Set("Cross-Origin-Resource-Policy", "same-origin")
		header.Set("Cross-Origin-Opener-Policy", "same-origin")
		header.Set("Cache-Control", "no-store")
		origin, site := r.Header.Get("Origin"), r.Header.Get("Sec-Fetch-Site")
		switch {
		case !slices.Contains(hosts, r.Host):
			http.Error(w, "this is not the host of the address that motet gave", http.StatusForbidden)
			return
		case origin != "" && origin != "http://"+r.Host, site != "" && site != "same-origin" && site != "none":
			http.Error(w, "another page asks", http.StatusForbidden)
			return
		}
		token, rest, _ := strings.Cut(strings.TrimPrefix(r.URL.Path, "/"), "/")
		if subtle.ConstantTimeCompare([]byte(token), []byte(p.token)) != 1 {
			http.Error(w, "open the address that motet gave; it has a token of its own each time", http.StatusForbidden)
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
	Since int    `json:"since"` // the version since which it has been as it is
}

// toldList is what there is to show.
type toldList struct {
	Version int         `json:"version"`
	Problem string      `json:"problem,omitempty"`
	Opens   bool        `json:"opens"` // lines open in the editor
	Sheets  []toldSheet `json:"sheets"`
}

func (p *Page) told(r reading) toldList {
	told := toldList{r.version, r.problem, p.opener != nil, []toldSheet{}}
	for _, s := range r.sheets {
		t := toldSheet{Name: s.Path, Path: s.Path, Whole: s.Motion.Whole(), Since: r.since[s.Path]}
		if s.Motion.Sheet != nil && s.Motion.Sheet.Name != "" {
			t.Name = s.Motion.Sheet.Name
		}
		told.Sheets = append(told.Sheets, t)
	}
	return told
}

func (p *Page) list(w http.ResponseWriter, _ *http.Request) {
	answer(w, p.told(p.reading()))
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

// asked is the sheet that a request names by its path.
func (p *Page) asked(w http.ResponseWriter, r *http.Request) (s *Sheet, since int, ok bool) {
	now, path := p.reading(), r.URL.Query().Get("path")
	for i := range now.sheets {
		if now.sheets[i].Path == path {
			return &now.sheets[i], now.since[path], true
		}
	}
	http.Error(w, "there is no such sheet", http.StatusNotFound)
	return nil, 0, false
}

// sheet tells all of a sheet but what is wrong with it, which takes longer.
func (p *Page) sheet(w http.ResponseWriter, r *http.Request) {
	if s, since, ok := p.asked(w, r); ok {
		told := tell(s, p.sample(s))
		told.Since = since
		answer(w, told)
	}
}

// faults tells what is wrong with a sheet.
func (p *Page) faults(w http.ResponseWriter, r *http.Request) {
	if s, since, ok := p.asked(w, r); ok {
		answer(w, toldFaults{since, tellFindings(s)})
	}
}

// sample looks at a sheet's motion frame by frame; what has not changed since it was last looked at is taken over. Without a
// motion it is nil.
func (p *Page) sample(s *Sheet) *motion.Sampled {
	if !s.Motion.Whole() {
		return nil
	}
	p.mu.Lock()
	before := p.sampled[s.Path]
	p.mu.Unlock()
	if before != nil && before.Motion == s.Motion {
		return before
	}
	now := s.Motion.SampledAgain(before)
	p.mu.Lock()
	defer p.mu.Unlock()
	if _, there := p.now.since[s.Path]; there {
		p.sampled[s.Path] = now
	}
	return now
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

// changes tells a page, as server-sent events, what there is to show, each time that it changes.
func (p *Page) changes(w http.ResponseWriter, r *http.Request) {
	reader := make(chan struct{}, 1)
	p.mu.Lock()
	p.readers[reader] = true
	turn := p.place.turn
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
		p.mu.Lock()
		now, place := p.now, p.place
		p.mu.Unlock()
		err := event(w, "message", p.told(now))
		if err == nil && place.turn != turn {
			turn = place.turn
			err = event(w, "place", place)
		}
		if err != nil || flusher.Flush() != nil {
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

// event writes one of the events of a stream (WHATWG HTML, 9.2 Server-sent events).
func event(w http.ResponseWriter, kind string, value any) error {
	text, err := json.Marshal(value)
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(w, "event: %s\ndata: %s\n\n", kind, text)
	return err
}
