package watch

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/draw"
	"github.com/motet-sheet/motet/lint/motion"
)

// Round is a family as it was at an earlier review.
type Round struct {
	Name string // as people call it: a revision, or a review file
	// Motions are by their files' paths in the project. Those that could not be played then are not whole.
	Motions map[string]*motion.Motion
	// Within tells whether a path is among what is under review, so that its sheet would be missed; nil for all.
	Within func(path string) bool
}

// The element of a review file that holds its data.
const (
	dataOpens  = `<script type="application/json" id="data">`
	dataCloses = `</script>`
)

// carried is what a review file carries of the sheets that it shows, so that a later round can tell what changed since.
type carried struct {
	Files  map[string]string `json:"files"`  // texts by path in the project: the sheets, and all that they depend on
	Sheets []string          `json:"sheets"` // the paths of those that are shown
}

// carry collects the texts of sheets and of what they depend on.
func carry(sheets []Sheet) carried {
	c := carried{Files: map[string]string{}, Sheets: []string{}}
	for i := range sheets {
		m := sheets[i].Motion
		c.Sheets = append(c.Sheets, m.File.Path)
		c.Files[m.File.Path] = m.File.Text
		for _, linked := range m.Linked {
			c.Files[linked.Path] = linked.Text
		}
	}
	return c
}

// IsReview tells whether a text is a review file, as far as its frame says.
func IsReview(page string) bool { return strings.Contains(page, dataOpens) }

// ReadReview gives the sheets of a review file as they were when it was written, by their paths in the project. What is no
// review file, or one that carries no sheets, is an error.
func ReadReview(page string) (map[string]*motion.Motion, error) {
	_, rest, found := strings.Cut(page, dataOpens)
	data, _, closed := strings.Cut(rest, dataCloses)
	if !found || !closed {
		return nil, errors.New("it is no review file, which `motet review FOLDER --out FILE` writes")
	}
	var c carried
	if err := json.Unmarshal([]byte(data), &c); err != nil {
		return nil, fmt.Errorf("it is a review file whose data is damaged: %w", err)
	}
	if len(c.Sheets) == 0 {
		return nil, errors.New("it is a review file without the sheets that it was made of, so that nothing can be compared with it")
	}
	project := motion.NewProject(func(name string) (*grammar.File, error) {
		text, ok := c.Files[name]
		if !ok {
			return nil, errors.New("there was no such file")
		}
		return grammar.Parse(name, text), nil
	})
	motions := map[string]*motion.Motion{}
	for _, name := range c.Sheets {
		motions[name] = project.Resolve(grammar.Parse(name, c.Files[name]))
	}
	return motions, nil
}

// before finds what a motion was at the earlier round: in the same file, or else under the same name; nil where it is new.
func (r *Round) before(m *motion.Motion) *motion.Motion {
	if old := r.Motions[m.File.Path]; old != nil {
		return old
	}
	for _, old := range r.Motions {
		if old.Sheet != nil && m.Sheet != nil && old.Sheet.Name == m.Sheet.Name {
			return old
		}
	}
	return nil
}

// gone names the sheets of the earlier round that none of these is.
func (r *Round) gone(sheets []Sheet) []string {
	there := map[*motion.Motion]bool{}
	for i := range sheets {
		there[r.before(sheets[i].Motion)] = true
	}
	names := []string{}
	for path, old := range r.Motions {
		if there[old] || r.Within != nil && !r.Within(path) {
			continue
		}
		if old.Sheet != nil && old.Sheet.Name != "" {
			path = old.Sheet.Name
		}
		names = append(names, path)
	}
	slices.Sort(names)
	return names
}

// mostChanged is how many channels and seams are told of each member.
const mostChanged = 3

// changes says what differs between two motions of a member, for whoever gave notes on the first: the lengths, the channels
// that moved by most of their range, the keys that came and went, and the seams.
func changes(old, now *motion.Motion) []string {
	found := motion.Compare(old, now)
	out := lengthChange(old.Sheet, now.Sheet)
	moved := slices.DeleteFunc(slices.Clone(found.Channels), func(d motion.ChannelDifference) bool { return d.Largest < leastSeen })
	share := func(d *motion.ChannelDifference) float64 {
		for _, m := range []*motion.Motion{now, old} {
			if c := m.Channel(d.Path); c != nil && c.Dial.HasRange {
				return d.Largest / (c.Dial.Range[1] - c.Dial.Range[0])
			}
		}
		return d.Largest / 100
	}
	slices.SortStableFunc(moved, func(a, b motion.ChannelDifference) int {
		return -cmp.Compare(share(&a), share(&b))
	})
	for i := range moved[:min(mostChanged, len(moved))] {
		d := &moved[i]
		line := fmt.Sprintf("%s differs by up to %s, at %s", d.Path, draw.WithUnit(d.Largest, d.Unit), draw.MomentName(now.Sheet, math.Round(d.AtFrame)))
		if d.Mean > 0.98*d.Largest {
			line = fmt.Sprintf("%s differs by %s throughout", d.Path, draw.WithUnit(d.Largest, d.Unit))
		}
		switch d.In {
		case "old":
			line += "; its rig has no such dial any more"
		case "new":
			line += "; its rig has this dial now"
		}
		out = append(out, line)
	}
	if more := len(moved) - mostChanged; more == 1 {
		out = append(out, "another channel differs by less of its range")
	} else if more > 1 {
		out = append(out, fmt.Sprintf("%d other channels differ by less of their range", more))
	}
	return append(append(out, keyChange(found)...), seamChange(found)...)
}

// leastSeen is the least difference, in cm, degrees or per cent, that is worth telling: what a frame does not show counts
// as none.
const leastSeen = 0.01

func lengthChange(a, b *motion.Sheet) []string {
	was, is := lasts(a), lasts(b)
	if was == is {
		return nil
	}
	return []string{"was " + was + ", is " + is}
}

// lasts says how long a sheet is, and whether it goes round.
func lasts(s *motion.Sheet) string {
	kind := "a span"
	if s.Closed {
		kind = "a cycle"
	}
	hundredths := func(v float64) float64 { return math.Round(v*100) / 100 }
	return fmt.Sprintf("%s of %g beats, %g s", kind, hundredths(s.Beats(s.Length).Float()), hundredths(s.Seconds(s.Length).Float()))
}

func keyChange(found *motion.Comparison) []string {
	added, removed := 0, 0
	for i := range found.Channels {
		added += len(found.Channels[i].Added)
		removed += len(found.Channels[i].Removed)
	}
	switch {
	case added > 0 && removed > 0:
		return []string{fmt.Sprintf("keys: %d added, %d removed", added, removed)}
	case added > 0:
		return []string{fmt.Sprintf("keys: %d added", added)}
	case removed > 0:
		return []string{fmt.Sprintf("keys: %d removed", removed)}
	}
	return nil
}

func seamChange(found *motion.Comparison) (out []string) {
	for i := range found.Channels {
		d := &found.Channels[i]
		was, is := math.Abs(d.SeamOld), math.Abs(d.SeamNew)
		switch {
		case len(out) == mostChanged || math.Abs(is-was) < leastSeen:
		case is < leastSeen:
			out = append(out, fmt.Sprintf("the seam of %s is closed: it jumped %s", d.Path, draw.WithUnit(was, d.Unit)))
		case was < leastSeen:
			out = append(out, fmt.Sprintf("the seam of %s is open now: it jumps %s", d.Path, draw.WithUnit(is, d.Unit)))
		default:
			out = append(out, fmt.Sprintf("the seam of %s jumped %s, and jumps %s", d.Path, draw.WithUnit(was, d.Unit), draw.WithUnit(is, d.Unit)))
		}
	}
	return out
}
