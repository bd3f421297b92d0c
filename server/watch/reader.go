package watch

import (
	"context"
	"slices"
	"sync"
	"sync/atomic"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint"
	"github.com/motet-sheet/motet/lint/motion"
)

// Reader reads sheets again and again as files change, and does anew only what a change touches: a sheet that was shown the
// same texts as before keeps its motion, and one that is made again takes over what [motion.Project.ResolveAgain] and
// [lint.CheckAgain] can. Its zero value is ready, and it is safe for use by several goroutines.
type Reader struct {
	mu    sync.Mutex
	known map[string]*known
}

// known is a sheet as it was last read.
type known struct {
	file     *grammar.File
	motion   *motion.Motion
	moved    *asked // what the motion rests on
	findings func() []lint.Finding
	said     *asked // what the findings rest on, which look at more files
	done     *atomic.Bool

	judging sync.Mutex
	memory  *lint.Memory
}

// Read gives what a sheet's file means among the files of its project, and what is wrong with it, to be worked out when
// first asked for. Key tells sheets apart. The motion is the same one, by address, for as long as all texts that it rests on
// are.
func (r *Reader) Read(key string, file *grammar.File, trees motion.Trees, list motion.Listing) (*motion.Motion, func() []lint.Finding) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.known == nil {
		r.known = map[string]*known{}
	}
	k := r.known[key]
	if k == nil {
		k = &known{}
		r.known[key] = k
	}
	switch {
	case k.file == nil || k.file != file && (k.file.Path != file.Path || k.file.Text != file.Text) || !k.moved.same(trees, list):
		k.moved = newAsked()
		project := k.moved.project(trees, list)
		k.file, k.motion = file, project.ResolveAgain(k.motion, file)
		k.said = k.moved
		k.moved = k.said.clone()
		m := k.motion
		k.check(func() *motion.Motion { return m })
	case !k.done.Load() || !k.said.same(trees, list):
		// The figure is the same, but not what the check compares it with. A motion keeps to the files that it was resolved
		// among, so the check has one of its own.
		m, file, said := k.motion, k.file, newAsked()
		k.said = said
		k.check(func() *motion.Motion { return said.project(trees, list).ResolveAgain(m, file) })
	}
	return k.motion, k.findings
}

// Last gives what [Reader.Read] gave last for a key; false where it has given nothing.
func (r *Reader) Last(key string) (m *motion.Motion, findings func() []lint.Finding, ok bool) {
	r.mu.Lock()
	defer r.mu.Unlock()
	k := r.known[key]
	if k == nil {
		return nil, nil, false
	}
	return k.motion, k.findings, true
}

// check promises the findings of a motion, from what the last check that was made remembers.
func (k *known) check(resolve func() *motion.Motion) {
	done := &atomic.Bool{}
	k.done = done
	k.findings = sync.OnceValue(func() []lint.Finding {
		k.judging.Lock()
		defer k.judging.Unlock()
		found, memory, err := lint.CheckAgain(context.Background(), resolve(), k.memory)
		if err == nil { // and it has no other reason than the context
			k.memory = memory
		}
		done.Store(true)
		return found
	})
}

// Keep lets go of all sheets but some.
func (r *Reader) Keep(keys []string) {
	r.mu.Lock()
	defer r.mu.Unlock()
	for key := range r.known {
		if !slices.Contains(keys, key) {
			delete(r.known, key)
		}
	}
}

// asked is what a project was asked for, and what it was shown.
type asked struct {
	mu    sync.Mutex
	trees map[string]shown
	lists map[string][]string
}

// shown is a tree, or why there is none.
type shown struct {
	tree *grammar.File
	why  string
}

func newAsked() *asked { return &asked{trees: map[string]shown{}, lists: map[string][]string{}} }

// project is one that notes what it is asked for.
func (a *asked) project(trees motion.Trees, list motion.Listing) *motion.Project {
	return motion.NewProject(func(name string) (*grammar.File, error) {
		tree, err := trees(name)
		a.mu.Lock()
		defer a.mu.Unlock()
		a.trees[name] = answerOf(tree, err)
		return tree, err
	}).WithListing(func(folder string) []string {
		names := list(folder)
		a.mu.Lock()
		defer a.mu.Unlock()
		a.lists[folder] = slices.Clone(names)
		return names
	})
}

func answerOf(tree *grammar.File, err error) shown {
	if err != nil {
		return shown{why: err.Error()}
	}
	return shown{tree: tree}
}

func (a *asked) clone() *asked {
	a.mu.Lock()
	defer a.mu.Unlock()
	out := newAsked()
	for name, answer := range a.trees {
		out.trees[name] = answer
	}
	for folder, names := range a.lists {
		out.lists[folder] = names
	}
	return out
}

// same tells whether the same questions would get the same answers.
func (a *asked) same(trees motion.Trees, list motion.Listing) bool {
	now := a.clone() // so that nobody waits for the disk
	for name, answer := range now.trees {
		if answerOf(trees(name)) != answer {
			return false
		}
	}
	for folder, names := range now.lists {
		if !slices.Equal(list(folder), names) {
			return false
		}
	}
	return true
}
