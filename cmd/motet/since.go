package main

import (
	"bytes"
	"errors"
	"fmt"
	"os/exec"
	"path"
	"path/filepath"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// since keeps those of the files that have changed since a revision of git, and those whose meaning rests on a file that
// has: through the rig, the base, the idle, the family or the house that they name.
func since(c *console, all *projects, files []string, revision string) ([]string, error) {
	if _, err := exec.LookPath("git"); err != nil {
		return nil, errors.New("--since asks git what has changed, and git is not in the PATH")
	}
	graphs := map[*project]*graph{}
	progress := newProgress(c, len(files))
	type named struct {
		project *project
		name    string
		needs   []string
	}
	at := make([]named, len(files))
	for i, n := range inOrder(files, func(path string) named {
		p, name := all.of(path)
		n := named{project: p, name: name}
		// A file that can't be read is told by its check.
		if text, err := readFile(path); err == nil {
			n.needs = motion.Needs(grammar.Parse(name, text))
		}
		return n
	}) {
		at[i] = n
		if graphs[n.project] == nil {
			changed, err := changedSince(n.project.root, revision)
			if err != nil {
				progress.clear()
				return nil, err
			}
			graphs[n.project] = &graph{project: n.project, changed: changed, needs: map[string][]string{}, answers: map[string]bool{}}
		}
		graphs[n.project].needs[n.name] = n.needs
		progress.done(i + 1)
	}
	progress.clear()
	var out []string
	for i, n := range at {
		if graphs[n.project].touched(n.name) {
			out = append(out, files[i])
		}
	}
	return out, nil
}

// graph is which files of a project rest on which.
type graph struct {
	project *project
	changed map[string]bool
	needs   map[string][]string // of the files read so far
	answers map[string]bool     // of moved
}

// touched tells whether a file has changed, or a house that holds for it, or anything that its motion rests on.
func (g *graph) touched(name string) bool {
	for _, house := range motion.HouseFiles(name) {
		if g.changed[house] {
			return true
		}
	}
	return g.moved(name)
}

// moved tells whether a file has changed, or anything that its motion rests on. Files may name each other in a ring, so all
// that one rests on is walked at once.
func (g *graph) moved(name string) bool {
	seen := map[string]bool{name: true}
	for todo := []string{name}; len(todo) > 0; {
		next := todo[len(todo)-1]
		todo = todo[:len(todo)-1]
		answer, known := g.answers[next]
		if answer || g.changed[next] || g.lost(next) {
			g.answers[name] = true
			return true
		}
		if known {
			continue
		}
		for _, need := range g.needsOf(next) {
			for _, one := range g.matches(need) {
				if !seen[one] {
					seen[one] = true
					todo = append(todo, one)
				}
			}
		}
	}
	for one := range seen {
		g.answers[one] = false
	}
	return false
}

// lost tells whether a pattern of a family's members fits a file that has changed, which may be gone.
func (g *graph) lost(pattern string) bool {
	if !isPattern(pattern) {
		return false
	}
	for name := range g.changed {
		if fits, err := path.Match(pattern, name); err == nil && fits {
			return true
		}
	}
	return false
}

// matches are the files that a need is about: itself, and for a pattern those that are there.
func (g *graph) matches(need string) []string {
	out := []string{need}
	if !isPattern(need) {
		return out
	}
	for _, name := range g.project.listing(path.Dir(need)) {
		if fits, err := path.Match(need, name); err == nil && fits {
			out = append(out, name)
		}
	}
	return out
}

func isPattern(name string) bool { return strings.ContainsAny(name, `*?[`) }

// needsOf reads a file that is not among those asked for when it is first needed.
func (g *graph) needsOf(name string) []string {
	needs, ok := g.needs[name]
	if !ok && !isPattern(name) {
		if file, err := g.project.tree(name); err == nil {
			needs = motion.Needs(file)
		}
		g.needs[name] = needs
	}
	return needs
}

// changedSince asks git for the files below a project's root that are not as they were in a revision, by their paths from
// there: changed, added or removed, committed or not, and new ones that it does not ignore.
func changedSince(root, revision string) (map[string]bool, error) {
	if !exists(filepath.Join(root, ".git")) {
		return nil, fmt.Errorf("%s is under no version control by git, so what has changed there can't be told; leave --since out", root)
	}
	if _, err := git(root, "rev-parse", "--verify", "--quiet", "--end-of-options", revision+"^{commit}"); err != nil {
		if isExit(err, 1) {
			if _, err := git(root, "rev-parse", "--verify", "--quiet", "HEAD"); isExit(err, 1) {
				return nil, fmt.Errorf("nothing is committed in %s yet, so that it has no revisions; leave --since out", root)
			}
			return nil, fmt.Errorf("git knows no revision `%s` in %s; `git log` lists those that there are", revision, root)
		}
		return nil, err
	}
	changed := map[string]bool{}
	for _, args := range [][]string{
		{"diff", "--name-only", "--no-renames", "--no-ext-diff", "-z", "--end-of-options", revision, "--"},
		{"ls-files", "--others", "--exclude-standard", "-z"},
	} {
		out, err := git(root, args...)
		if err != nil {
			return nil, err
		}
		for name := range strings.SplitSeq(string(out), "\x00") {
			changed[name] = true
		}
	}
	delete(changed, "")
	return changed, nil
}

func isExit(err error, code int) bool {
	var exit *exec.ExitError
	return errors.As(err, &exit) && exit.ExitCode() == code
}

var errNoRepository = errors.New("is in no repository of git, so that it has no revisions")

// git runs git in a folder. What it complains about is in the error, in its own words.
func git(root string, args ...string) ([]byte, error) {
	var out, trouble bytes.Buffer
	cmd := exec.Command("git", append([]string{"-C", root}, args...)...)
	cmd.Stdout, cmd.Stderr = &out, &trouble
	if err := cmd.Run(); err != nil {
		if errors.Is(err, exec.ErrNotFound) {
			return nil, errors.New("git is not on the path, and only git knows revisions; install it, or name a file")
		}
		if said := strings.TrimSpace(trouble.String()); said != "" {
			first, _, _ := strings.Cut(said, "\n")
			if strings.Contains(first, "not a git repository") {
				return nil, fmt.Errorf("%s %w", root, errNoRepository)
			}
			return nil, fmt.Errorf("git says: %s (%w)", first, err)
		}
		return nil, err
	}
	return out.Bytes(), nil
}
