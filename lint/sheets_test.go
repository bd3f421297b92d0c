package lint

import (
	"errors"
	"flag"
	"fmt"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/txtar"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

var update = flag.Bool("update", false, "write golden files anew")

// folderTrees gives the trees of a folder's files, each parsed once.
func folderTrees(root string) motion.Trees {
	parsed := map[string]*grammar.File{}
	return func(name string) (*grammar.File, error) {
		if f, ok := parsed[name]; ok {
			return f, nil
		}
		text, err := os.ReadFile(filepath.Join(root, filepath.FromSlash(name)))
		if err != nil {
			return nil, errors.New("there is no such file")
		}
		parsed[name] = grammar.Parse(name, string(text))
		return parsed[name], nil
	}
}

// folderListing gives the names of the sheets and rigs in a folder, as families look for their members.
func folderListing(root string) motion.Listing {
	return func(folder string) []string {
		entries, err := os.ReadDir(filepath.Join(root, filepath.FromSlash(folder)))
		if err != nil {
			return nil
		}
		var out []string
		for _, entry := range entries {
			if !entry.IsDir() && strings.HasSuffix(entry.Name(), ".motet") {
				out = append(out, path.Join(folder, entry.Name()))
			}
		}
		return out
	}
}

// folderProject is a project over a folder's files, in which families find their members.
func folderProject(root string, trees motion.Trees) *motion.Project {
	return motion.NewProject(trees).WithListing(folderListing(root))
}

// sheetsBelow are the paths of the sheets and rigs below a folder, from that folder.
func sheetsBelow(t *testing.T, root string) []string {
	t.Helper()
	var out []string
	require.NoError(t, filepath.WalkDir(root, func(name string, entry os.DirEntry, err error) error {
		if err == nil && !entry.IsDir() && strings.HasSuffix(name, ".motet") {
			from, _ := filepath.Rel(root, name)
			out = append(out, filepath.ToSlash(from))
		}
		return err
	}))
	require.NotEmpty(t, out)
	return out
}

const (
	testFolder  = "../testdata"
	rulesFolder = testFolder + "/rules"
)

// want is what a comment `# want RULE "regexp"` asks for on its line.
type want struct {
	line    int
	rule    string
	message *regexp.Regexp
}

var reWant = regexp.MustCompile(`want ([a-z-]+) "([^"]*)"`)

// sheetsToJudge are the paths of all sheets and rigs in testdata that say what they are reported for.
func sheetsToJudge(t *testing.T) []string {
	var out []string
	for _, folder := range []string{"quay", "broken", "rules"} {
		for _, name := range sheetsBelow(t, testFolder+"/"+folder) {
			out = append(out, folder+"/"+name)
		}
	}
	return out
}

func wants(t *testing.T, f *grammar.File) []want {
	var out []want
	for i, line := range strings.Split(f.Text, "\n") {
		for _, m := range reWant.FindAllStringSubmatch(line, -1) {
			message, err := regexp.Compile(m[2])
			require.NoError(t, err, "%s:%d", f.Path, i+1)
			out = append(out, want{i, m[1], message})
		}
	}
	return out
}

// TestSheetsAreReportedAsTheyAskFor holds every finding in testdata against the comments there, both ways; the quay folk
// ask for none.
func TestSheetsAreReportedAsTheyAskFor(t *testing.T) {
	trees := folderTrees(testFolder)
	for _, name := range sheetsToJudge(t) {
		t.Run(name, func(t *testing.T) {
			f, err := trees(name)
			require.NoError(t, err)
			asked := wants(t, f)
			for _, finding := range Check(folderProject(testFolder, trees).Resolve(f)) {
				line, _ := f.LineNumber(finding.At)
				at := slices.IndexFunc(asked, func(w want) bool {
					return w.line == line && w.rule == finding.Rule && w.message.MatchString(finding.Message)
				})
				if at < 0 {
					t.Errorf("%s:%d: nobody asked for %s: %s", name, line+1, finding.Rule, finding.Message)
					continue
				}
				asked = slices.Delete(asked, at, at+1)
			}
			for _, w := range asked {
				t.Errorf("%s:%d: not reported: %s %q", name, w.line+1, w.rule, w.message)
			}
		})
	}
}

// TestEveryRuleHasSheetsThatItReportsAndSheetsThatItLeavesAlone counts them.
func TestEveryRuleHasSheetsThatItReportsAndSheetsThatItLeavesAlone(t *testing.T) {
	trees := folderTrees(rulesFolder)
	reports, silent := map[string]int{}, map[string]int{}
	for _, name := range sheetsBelow(t, rulesFolder) {
		f, err := trees(name)
		require.NoError(t, err)
		rule := path.Dir(name)
		if slices.ContainsFunc(wants(t, f), func(w want) bool { return w.rule == rule }) {
			reports[rule]++
		} else {
			silent[rule]++
		}
	}
	for _, rule := range Rules() {
		assert.GreaterOrEqual(t, reports[rule.Name], 3, "sheets that %s reports", rule.Name)
		assert.GreaterOrEqual(t, silent[rule.Name], 5, "sheets that %s leaves alone", rule.Name)
	}
}

func TestEveryRuleFiresOnTheBrokenSheets(t *testing.T) {
	trees := folderTrees(testFolder)
	fired := map[string]bool{}
	for _, name := range sheetsBelow(t, testFolder+"/broken") {
		f, err := trees("broken/" + name)
		require.NoError(t, err)
		for _, finding := range Check(folderProject(testFolder, trees).Resolve(f)) {
			fired[finding.Rule] = true
		}
	}
	for _, rule := range Rules() {
		assert.True(t, fired[rule.Name], rule.Name)
	}
}

// brokenOnPurpose are the rules whose sheets cannot be in canonical form, since that is what they are about.
var brokenOnPurpose = []string{"syntax", "out-of-order", "broken"}

func TestSheetsAreInCanonicalForm(t *testing.T) {
	trees := folderTrees(testFolder)
	for _, name := range sheetsToJudge(t) {
		f, err := trees(name)
		require.NoError(t, err)
		if !slices.Contains(brokenOnPurpose, path.Base(path.Dir(name))) {
			assert.Equal(t, grammar.Format(f), f.Text, name)
		}
	}
}

// TestMendsTakeAwayWhatTheyAreFor applies every mend in testdata/rules alone: its finding goes, no rule reports more than
// before, and a canonical text stays canonical. What it changes is kept beside the sheet.
func TestMendsTakeAwayWhatTheyAreFor(t *testing.T) {
	trees := folderTrees(rulesFolder)
	for _, name := range sheetsBelow(t, rulesFolder) {
		t.Run(name, func(t *testing.T) {
			f, err := trees(name)
			require.NoError(t, err)
			found := Check(folderProject(rulesFolder, trees).Resolve(f))
			var changes txtar.Archive
			for _, finding := range found {
				line, _ := f.LineNumber(finding.At)
				for _, mend := range finding.Mends {
					text, ok := Apply(f, mend)
					require.True(t, ok, "%s: %s", finding.Rule, mend.Title)
					checkMended(t, f, trees, found, finding, text)
					title := fmt.Sprintf("line %d, %s: %s", line+1, finding.Rule, mend.Title)
					if mend.Safe {
						title += " (--fix)"
					}
					changes.Files = append(changes.Files, txtar.File{Name: title, Data: []byte(lineChanges(f.Text, text))})
				}
			}
			golden(t, filepath.Join(rulesFolder, strings.TrimSuffix(name, ".motet")+".mends"), txtar.Format(&changes))
		})
	}
}

func checkMended(t *testing.T, f *grammar.File, trees motion.Trees, before []Finding, mended Finding, text string) {
	next := grammar.Parse(f.Path, text)
	m := &mending{trees: trees, list: folderListing(rulesFolder), rules: Rules()}
	after := m.judge(next).found
	of := func(found []Finding) (n int) {
		for i := range found {
			if found[i].Rule == mended.Rule {
				n++
			}
		}
		return n
	}
	assert.Less(t, of(after), of(before), "%s is gone: %s\n%s", mended.Rule, mended.Message, text)
	assert.False(t, worse(before, after), "no rule reports more after mending %s: %s\n%s\n%v", mended.Rule, mended.Message, text, after)
	if grammar.Format(f) == f.Text && !hasBrokenLines(f) {
		assert.Equal(t, grammar.Format(next), text, "the text stays in canonical form")
	}
}

func hasBrokenLines(f *grammar.File) bool {
	return slices.ContainsFunc(f.Blocks, func(b *grammar.Block) bool {
		return slices.ContainsFunc(b.Lines, func(l grammar.Line) bool { return l.Kind == grammar.BadLine })
	})
}

// golden holds what a test gives against a file; nothing at all means that there is no such file.
func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	old, err := os.ReadFile(name)
	switch {
	case *update && len(got) == 0:
		_ = os.Remove(name)
	case *update:
		require.NoError(t, os.WriteFile(name, got, 0o644))
	case len(got) == 0:
		assert.True(t, os.IsNotExist(err), "%s is no longer needed; run the test with -update", name)
	default:
		if string(old) != string(got) {
			t.Errorf("%s is stale; run the test with -update and look at what changes:\n%s", name, lineChanges(string(old), string(got)))
		}
	}
}

// lineChanges gives the lines that differ, those of the old text behind a minus and those of the new one behind a plus.
func lineChanges(old, now string) string {
	a, b := strings.SplitAfter(old, "\n"), strings.SplitAfter(now, "\n")
	var out strings.Builder
	common := commonLines(a, b)
	for i, j := 0, 0; i < len(a) || j < len(b); {
		switch {
		case i < len(a) && j < len(b) && a[i] == b[j] && common[i][j] == common[i+1][j+1]+1:
			i, j = i+1, j+1
		case i < len(a) && (j == len(b) || common[i+1][j] >= common[i][j+1]):
			out.WriteString("-" + strings.TrimRight(a[i], "\n") + "\n")
			i++
		default:
			out.WriteString("+" + strings.TrimRight(b[j], "\n") + "\n")
			j++
		}
	}
	return out.String()
}

// commonLines is the table of the longest common run of lines from each pair of places on.
func commonLines(a, b []string) [][]int {
	table := make([][]int, len(a)+1)
	for i := range table {
		table[i] = make([]int, len(b)+1)
	}
	for i := len(a) - 1; i >= 0; i-- {
		for j := len(b) - 1; j >= 0; j-- {
			table[i][j] = max(table[i+1][j], table[i][j+1])
			if a[i] == b[j] {
				table[i][j] = table[i+1][j+1] + 1
			}
		}
	}
	return table
}

// TestSafeMendsComeToRest applies all safe mends in testdata: what is left has none that would do any good, and no rule
// reports more than before where no more lines are read.
func TestSafeMendsComeToRest(t *testing.T) {
	trees := folderTrees(testFolder)
	for _, name := range sheetsToJudge(t) {
		f, err := trees(name)
		require.NoError(t, err)
		before := Check(folderProject(testFolder, trees).Resolve(f))
		mended := MendAll(f, trees, folderListing(testFolder))
		if read := broken(f) - broken(mended.File); read == 0 {
			assert.False(t, worse(before, mended.Left), "%s: %v", name, mended.Left)
		} else {
			assert.Positive(t, read, name)
		}
		again := MendAll(mended.File, trees, folderListing(testFolder))
		assert.Empty(t, again.Done, name)
		assert.Equal(t, mended.File.Text, again.File.Text, name)
	}
}

// TestMendingKeepsAnAllowanceThatAFamilyNeeds: while its members are seen, what a family allows is not unused.
func TestMendingKeepsAnAllowanceThatAFamilyNeeds(t *testing.T) {
	trees := folderTrees(rulesFolder)
	f, err := trees("in-step/silent-chorus.motet")
	require.NoError(t, err)
	require.Contains(t, f.Text, "# allow in-step")
	mended := MendAll(f, trees, folderListing(rulesFolder))
	assert.Empty(t, mended.Done)
	assert.Equal(t, f.Text, mended.File.Text)
}
