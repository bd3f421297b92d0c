package server

import (
	"errors"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint"
	"github.com/motet-sheet/motet/lint/motion"
	"go.lsp.dev/uri"
)

// reading is what a document means in its world: its motion and what is wrong with it. Each is worked out when first
// asked for, once, however many requests ask; it never changes then.
type reading struct {
	motion   func() *motion.Motion
	findings func() []lint.Finding

	look *lookout
	made atomic.Bool // the motion is
	done atomic.Bool // the findings are, and no more files will be looked at
}

// newReading promises the reading of a document in a world.
func newReading(d *document, w *world) *reading {
	r := &reading{look: newLookout(d, w)}
	project := r.look.project()
	r.motion = sync.OnceValue(func() *motion.Motion {
		defer r.made.Store(true)
		return project.Resolve(d.tree())
	})
	judge := w.judge
	r.findings = sync.OnceValue(func() []lint.Finding {
		defer r.done.Store(true)
		return judge(r.motion())
	})
	return r
}

// uses tells whether the reading depends on a file; one that is not done yet may use any.
func (r *reading) uses(path string) bool {
	return !r.done.Load() || r.look.saw(path)
}

// lookout shows the motion the other files of its project: open documents as they are, and the rest from disk. It
// remembers what it was asked for, found or not. It holds no world, since a world holds readings, and so would hold
// every world before it.
type lookout struct {
	documents map[uri.URI]*document
	disk      *disk
	root      string
	mu        sync.Mutex
	seen      map[string]bool
}

func newLookout(d *document, w *world) *lookout {
	return &lookout{documents: w.documents, disk: w.disk, root: d.root, seen: map[string]bool{}}
}

// project resolves sheets by what the lookout sees.
func (l *lookout) project() *motion.Project { return motion.NewProject(l.tree).WithListing(l.list) }

// list gives the sheets and rigs of a folder, on disk or only in the editor. A folder counts as seen, since a file that
// comes or goes changes the answer.
func (l *lookout) list(folder string) []string {
	if l.root == "" {
		return nil
	}
	full := filepath.Join(l.root, filepath.FromSlash(folder))
	l.note(full)
	names := l.disk.list(l.root, folder)
	for _, d := range l.documents {
		name := nameIn(l.root, d.path)
		if d.path != "" && filepath.Dir(d.path) == full && strings.HasSuffix(name, sheetSuffix) && !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	return names
}

func (l *lookout) tree(path string) (*grammar.File, error) {
	if l.root == "" {
		return nil, errors.New("this sheet is not saved yet, so it has no neighbours")
	}
	full := filepath.Join(l.root, filepath.FromSlash(path))
	l.note(full)
	if d, ok := opened(l.documents, full); ok {
		if d.name != path {
			return grammar.Parse(path, d.text), nil // opened under another folder of the client's, with a path of its own
		}
		return d.tree(), nil
	}
	return l.disk.tree(l.root, path)
}

func (l *lookout) note(path string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.seen[path] = true
}

func (l *lookout) saw(path string) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.seen[path]
}
