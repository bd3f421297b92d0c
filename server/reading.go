package server

import (
	"errors"
	"path/filepath"
	"sync"
	"sync/atomic"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint"
	"github.com/motet-sheet/motet/lint/motion"
)

// reading is what a document means in its world: its motion and what is wrong with it. Each is worked out when first
// asked for, once, however many requests ask; it never changes then.
type reading struct {
	motion   func() *motion.Motion
	findings func() []lint.Finding

	files atomic.Pointer[map[string]bool] // the files that the motion was made from, by path; nil until it is made
}

// newReading promises the reading of a document in a world. It holds on to the world only until the motion is made, so
// that old worlds go.
func newReading(d *document, w *world) *reading {
	r := &reading{}
	r.motion = sync.OnceValue(func() *motion.Motion {
		look := &lookout{world: w, root: d.root, seen: map[string]bool{}}
		resolved := motion.NewProject(look.tree).Resolve(d.tree())
		r.files.Store(&look.seen)
		return resolved
	})
	judge := w.judge
	r.findings = sync.OnceValue(func() []lint.Finding { return judge(r.motion()) })
	return r
}

// uses tells whether the reading was made from a file; one that is not made yet may use any.
func (r *reading) uses(path string) bool {
	files := r.files.Load()
	return files == nil || (*files)[path]
}

// lookout shows the motion the other files of its project: open documents as they are, and the rest from disk. It
// remembers what it was asked for, found or not.
type lookout struct {
	world *world
	root  string
	mu    sync.Mutex
	seen  map[string]bool
}

func (l *lookout) tree(path string) (*grammar.File, error) {
	if l.root == "" {
		return nil, errors.New("this sheet is not saved yet, so it has no neighbours")
	}
	full := filepath.Join(l.root, filepath.FromSlash(path))
	l.mu.Lock()
	l.seen[full] = true
	l.mu.Unlock()
	if d, ok := l.world.opened(full); ok {
		if d.name != path {
			return grammar.Parse(path, d.text), nil // opened under another folder of the client's, with a path of its own
		}
		return d.tree(), nil
	}
	return l.world.disk.tree(l.root, path)
}
