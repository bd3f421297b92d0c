package watch

import (
	"net"
	"net/http"
	"net/url"
	"strconv"
	"time"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// Opener shows a line of a sheet in an editor; the sheet is called as the source calls it, and lines count from 0.
type Opener func(path string, line int) error

// Listen takes a port on the loopback address for the page, 0 for any that is free. It serves nothing yet.
func Listen(port int) (net.Listener, error) {
	// The address is one that only this machine has, and never a name, which could be made to mean another machine.
	return net.Listen("tcp", net.JoinHostPort("127.0.0.1", strconv.Itoa(port)))
}

// Server is a server of the page for a listener that [Listen] gave, and the page's address there. Browsers may call it by the
// name localhost too, which they never ask anybody about.
func (p *Page) Server(listener net.Listener) (server *http.Server, address string) {
	host := listener.Addr().String()
	hosts := []string{host}
	if _, port, err := net.SplitHostPort(host); err == nil {
		hosts = append(hosts, net.JoinHostPort("localhost", port))
	}
	return &http.Server{Handler: p.Handler(hosts...), ReadHeaderTimeout: 10 * time.Second}, "http://" + host + p.Path()
}

// place is a moment of a sheet that the page is to show.
type place struct {
	turn   int // counts up
	Path   string
	Frames float64
}

// Show makes every open page show a sheet at a moment, in frames, and tells whether there is one.
func (p *Page) Show(path string, frames float64) bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.place = place{p.place.turn + 1, path, frames}
	p.tell()
	return len(p.readers) > 0
}

// Fragment is what behind the page's address makes it open at a moment of a sheet.
func Fragment(path string, frames float64) string {
	return "#" + url.Values{"sheet": {path}, "frame": {strconv.FormatFloat(frames, 'f', -1, 64)}}.Encode()
}

// open shows a line of a sheet in the editor.
func (p *Page) open(w http.ResponseWriter, r *http.Request) {
	s, _, ok := p.asked(w, r)
	if !ok {
		return
	}
	line, err := strconv.Atoi(r.URL.Query().Get("line"))
	switch {
	case p.opener == nil:
		http.Error(w, "no editor is named; start motet watch with --editor", http.StatusNotFound)
	case err != nil || line < 0 || line >= s.Motion.File.LineCount():
		http.Error(w, "there is no such line", http.StatusNotFound)
	default:
		if err := p.opener(s.Path, line); err != nil {
			http.Error(w, "the editor did not open: "+err.Error(), http.StatusInternalServerError)
			return
		}
		w.WriteHeader(http.StatusNoContent)
	}
}

// MomentAt is the moment, in frames, of the row at a line of the sheet's own file, or of the last one above it in the same
// table; above a table's rows it is that of the first. It is false where there is no such row.
func MomentAt(m *motion.Motion, line int) (frames float64, ok bool) {
	if !m.Whole() {
		return 0, false
	}
	opens := -1
	for _, b := range m.File.Blocks {
		if at, there := m.File.LineNumber(b.RefLine(b.Open)); there && b.Kind != grammar.Preamble && at <= line {
			opens = at
		}
	}
	for _, row := range rowsOf(m) {
		if row.Block == opens && (!ok || row.Line <= line) {
			frames, ok = row.Frames, true
		}
	}
	return frames, ok
}
