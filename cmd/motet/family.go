package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"text/tabwriter"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

const familyHelp = `
motet family [FLAGS] FOLDER|FILE

Tells what each member of a family is: its base, its length, its keys, what is
its own, its seam, where in the cycle it begins, and which other one it is most
like. FILE holds the family; in a FOLDER, the file with the family is found, or
else all its sheets are taken for one.

  --matrix   print how far all members are apart, as shares of the base's motion
  --json     print JSON instead of text: {"members": […]}, and with --matrix a
             "distances" table in the members' order

exit codes:
  0  done
  2  there is no family to be told of
`

type familyFlags struct {
	Path   string `arg:""`
	Matrix bool
	JSON   bool
}

func (f *familyFlags) run(c *console) int {
	family, err := findFamily(f.Path)
	if err != nil {
		c.complain("%s: %s", f.Path, plainIO(err))
		return exitFailed
	}
	told := tellFamily(family)
	switch {
	case f.JSON:
		if !f.Matrix {
			told.Distances = nil
		}
		text, err := json.MarshalIndent(told, "", "  ")
		if err != nil {
			c.complain("the family cannot be written as JSON: %s", err)
			return exitFailed
		}
		c.print(string(text) + "\n")
	case f.Matrix:
		told.printMatrix(c)
	default:
		told.print(c)
	}
	return exitClean
}

// findFamily resolves the family of a file, or of a folder.
func findFamily(path string) (*motion.Family, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, err
	}
	if !info.IsDir() {
		m, _, _, err := resolveSheet(path)
		if err != nil {
			return nil, err
		}
		if family := m.Family(); family != nil {
			return family, nil
		}
		return nil, errors.New("there is no family in this file; write `family NAME` and its `members`, or name the folder")
	}
	names, err := filepath.Glob(filepath.Join(path, "*"+sheetSuffix))
	if err != nil {
		return nil, err
	}
	for _, name := range names {
		m, _, _, err := resolveSheet(name)
		if err != nil {
			return nil, err
		}
		if family := m.Family(); family != nil {
			return family, nil
		}
	}
	return allSheets(path)
}

// allSheets takes all sheets of a folder for a family.
func allSheets(folder string) (*motion.Family, error) {
	all, err := newProjects(folder)
	if err != nil {
		return nil, err
	}
	p, name := all.of(filepath.Join(folder, "family"+sheetSuffix))
	family := p.Resolve(grammar.Parse(name, "family all\n  members \"*"+sheetSuffix+"\"\n")).Family()
	if len(family.Members) == 0 {
		return nil, errors.New("there is no sheet in this folder")
	}
	return family, nil
}

// toldFamily is a family in numbers; its JSON names are kept stable.
type toldFamily struct {
	Members   []toldMember `json:"members"`
	Distances [][]float64  `json:"distances,omitempty"` // shares of the base's motion, in the order of Names
	Names     []string     `json:"distanceNames,omitempty"`
}

type toldMember struct {
	Name     string   `json:"name"`
	File     string   `json:"file"`
	Base     string   `json:"base,omitempty"`
	Beats    float64  `json:"beats"`
	Seconds  float64  `json:"seconds"`
	Keys     int      `json:"keys"`
	KeyRate  float64  `json:"keysPerSecond"`
	Own      []string `json:"own,omitempty"`
	Loop     bool     `json:"loop"`
	SeamGap  float64  `json:"seamGap"`
	SeamAt   string   `json:"seamGapChannel,omitempty"`
	Phase    float64  `json:"phaseBeats"`
	Nearest  string   `json:"nearest,omitempty"`
	Distance *float64 `json:"nearestDistance,omitempty"`

	seamUnit string
}

func tellFamily(f *motion.Family) *toldFamily {
	r := f.Resemblance()
	told := &toldFamily{Members: []toldMember{}}
	for i := range f.Members {
		if f.Members[i].Motion.Whole() {
			told.Members = append(told.Members, tellMember(&f.Members[i], r))
		}
	}
	for i, m := range r.Members {
		told.Names = append(told.Names, m.Name)
		row := make([]float64, len(r.Members))
		for k := range row {
			if k != i {
				row[k] = r.Share(i, k)
			}
		}
		told.Distances = append(told.Distances, row)
	}
	return told
}

func tellMember(member *motion.Member, r *motion.Resemblance) toldMember {
	m, s := member.Motion, member.Motion.Sheet
	t := toldMember{
		Name: member.Name, File: member.Path, Beats: s.Beats(s.Length).Float(), Seconds: s.Seconds(s.Length).Float(),
		Keys: m.KeyCount(), Own: m.Differs(), Loop: s.Closed, Phase: s.Beats(s.Phase).Float(),
	}
	t.KeyRate = float64(t.Keys) / t.Seconds
	if m.Base != nil {
		t.Base = m.Base.Sheet.Name
	}
	if c, gap := m.WorstSeam(func(string) float64 { return 1 }); c != nil && s.Closed {
		t.SeamGap, t.SeamAt, t.seamUnit = gap, c.Dial.Path, c.Dial.Unit
	}
	if i := slices.Index(r.Members, member); i >= 0 {
		if nearest, share := r.Nearest(i); nearest >= 0 {
			t.Nearest, t.Distance = r.Members[nearest].Name, &share
		}
	}
	return t
}

// print sets the family as a table; what is a member's own comes last, since it has no end.
func (t *toldFamily) print(c *console) {
	table := tabwriter.NewWriter(c.out, 0, 0, 2, ' ', 0)
	_, _ = fmt.Fprintln(table, "name\tbase\tbeats\ts\tkeys\ta second\tseam\tphase\tmost like\tapart\town")
	for _, m := range t.Members {
		base, nearest, apart := dash(m.Base), dash(m.Nearest), "–"
		if m.Distance != nil {
			apart = fmt.Sprintf("%.0f%%", 100**m.Distance)
		}
		row := fmt.Sprintf("%s\t%s\t%s\t%s\t%d\t%.1f\t%s\t%s\t%s\t%s", m.Name, base, shortNumber(m.Beats), shortNumber(m.Seconds), m.Keys, m.KeyRate, m.seam(), shortNumber(m.Phase), nearest, apart)
		if own := m.phrase(); own != "" {
			row += "\t" + own
		}
		_, _ = fmt.Fprintln(table, row)
	}
	_ = table.Flush()
}

func dash(text string) string {
	if text == "" {
		return "–"
	}
	return text
}

func (m *toldMember) seam() string {
	switch {
	case !m.Loop:
		return "span"
	case m.SeamAt == "" || shortNumber(m.SeamGap) == "0":
		return "closed"
	}
	return shortNumber(m.SeamGap) + unitSign(m.seamUnit)
}

// phrase is what is a member's own, cut where a line of a terminal would be full.
func (m *toldMember) phrase() string {
	const most = 60
	text := strings.Join(m.Own, ", ")
	if runes := []rune(text); len(runes) > most {
		text = string(runes[:most-1]) + "…"
	}
	return text
}

func (t *toldFamily) printMatrix(c *console) {
	table := tabwriter.NewWriter(c.out, 0, 0, 2, ' ', tabwriter.AlignRight)
	head := "\t"
	for i := range t.Names {
		head += fmt.Sprintf("%d\t", i+1)
	}
	_, _ = fmt.Fprintln(table, head)
	for i, row := range t.Distances {
		line := fmt.Sprintf("%s %d\t", t.Names[i], i+1)
		for k, share := range row {
			if k == i {
				line += "·\t"
				continue
			}
			line += fmt.Sprintf("%.0f%%\t", 100*share)
		}
		_, _ = fmt.Fprintln(table, line)
	}
	_ = table.Flush()
}
