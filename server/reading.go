package server

import (
	"context"
	"errors"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint"
	"github.com/motet-sheet/motet/lint/motion"
	"github.com/motet-sheet/motet/server/watch"
	"go.lsp.dev/uri"
)

// reading is what a document means in its world: its motion and what is wrong with it. Each is worked out when first
// asked for, once, however many requests ask; it never changes then. What an earlier reading of the same document worked
// out, and no edit has touched, is taken over.
type reading struct {
	motion func() *motion.Motion

	judge judge
	turn  chan struct{} // holds a token while somebody judges
	found []lint.Finding

	past atomic.Pointer[past] // the newest there is, for the next reading to start from
	look *lookout
	told atomic.Bool // somebody has asked for what other files have a say in
	made atomic.Bool // the motion is
	done atomic.Bool // the findings are, and no more files will be looked at
}

// past is what a reading leaves to the next one. Both may be nil, and of different versions of the text.
type past struct {
	motion *motion.Motion
	memory *lint.Memory
}

// judge finds what is wrong with a motion, as [lint.CheckAgain] does.
type judge func(context.Context, *motion.Motion, *lint.Memory) ([]lint.Finding, *lint.Memory, error)

// newReading promises the reading of a document in a world, after an earlier one, nil for none.
func newReading(d *document, w *world, earlier *reading) *reading {
	r := &reading{look: newLookout(d, w), judge: w.judge, turn: make(chan struct{}, 1)}
	r.past.Store(&past{})
	if earlier != nil {
		r.past.Store(earlier.past.Load())
	}
	project := r.look.project()
	r.motion = sync.OnceValue(func() *motion.Motion {
		r.told.Store(true)
		defer r.made.Store(true)
		before := r.past.Load()
		m := project.ResolveAgain(before.motion, d.tree())
		r.past.Store(&past{m, before.memory})
		return m
	})
	return r
}

// findings are what is wrong with the document, or the reason why ctx ended before that was known. Who waits while another
// judges takes over where that one is given up.
func (r *reading) findings(ctx context.Context) ([]lint.Finding, error) {
	select {
	case r.turn <- struct{}{}:
	case <-ctx.Done():
		return nil, context.Cause(ctx)
	}
	defer func() { <-r.turn }()
	if r.done.Load() {
		return r.found, nil
	}
	m := r.motion()
	found, memory, err := r.judge(ctx, m, r.past.Load().memory)
	if err != nil {
		return nil, err
	}
	r.past.Store(&past{m, memory})
	r.found = found
	r.done.Store(true)
	return found, nil
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
	disk      *watch.Disk
	root      string
	mu        sync.Mutex
	seen      map[string]bool
	trees     map[string]*grammar.File // what was shown, by name; nil where nothing was
	lists     map[string][]string      // by folder
}

func newLookout(d *document, w *world) *lookout {
	return &lookout{
		documents: w.documents, disk: w.disk, root: d.root, seen: map[string]bool{},
		trees: map[string]*grammar.File{}, lists: map[string][]string{},
	}
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
	names := l.disk.List(l.root, folder)
	defer func() { l.noteList(folder, names) }()
	for _, d := range l.documents {
		name := nameIn(l.root, d.path)
		if d.path != "" && filepath.Dir(d.path) == full && strings.HasSuffix(name, sheetSuffix) && !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	return names
}

func (l *lookout) tree(path string) (*grammar.File, error) {
	tree, err := l.find(path)
	l.mu.Lock()
	defer l.mu.Unlock()
	l.trees[path] = tree
	return tree, err
}

func (l *lookout) noteList(folder string, names []string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.lists[folder] = slices.Sorted(slices.Values(names)) // a copy, since names are the asker's
}

func (l *lookout) find(path string) (*grammar.File, error) {
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
	return l.disk.Tree(l.root, path)
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
