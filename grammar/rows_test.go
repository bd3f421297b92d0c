package grammar

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// rowByProduction reads a row by the production that defines rows, and makes of its cells what the row reader makes.
func rowByProduction(line string) ([]Cell, bool) {
	row, err := parseTableRow(line)
	if err != nil {
		return nil, false
	}
	cells := make([]Cell, len(row.Cells))
	for i, c := range row.Cells {
		cell := &cells[i]
		cell.Span = c.Where()
		switch {
		case c.Number != nil:
			cell.Class, cell.Value = Number, c.Number.Value
		case c.Percent != nil:
			cell.Class, cell.Value = Percent, c.Percent.Value
		case c.Marked != nil:
			cell.Class, cell.Value, cell.Shape, cell.Slope = Marked, c.Marked.Value, c.Marked.Shape, c.Marked.Slope
		case c.Time != nil:
			cell.Class, cell.Time = TimeAtom, c.Time
		default:
			for class, text := range map[Class]string{
				Dot: c.Empty, Word: c.Word, Path: c.Path, Pattern: c.Pattern, String: c.String, Quantity: c.Measure,
				RangeAtom: c.Range, Direction: c.Axis, Easing: c.Easing, Limits: c.Limits, Unit: c.Unit,
			} {
				if text != "" {
					cell.Class = class
				}
			}
		}
	}
	return cells, true
}

// assertOneRow holds the row reader to the production for one line that has something on it.
func assertOneRow(t assert.TestingT, line string) {
	wantCells, want := rowByProduction(line)
	var r rowReader
	cells, comment, ok := r.read(line)
	if !assert.Equal(t, want, ok, "read at all: %q", line) || !ok {
		return
	}
	assert.Equal(t, wantCells, cells, "%q", line)
	for i := range cells {
		if i < len(wantCells) {
			assert.Equal(t, math.Signbit(wantCells[i].Value), math.Signbit(cells[i].Value), "sign of cell %d of %q", i, line)
		}
	}
	var wantComment Span
	for _, token := range Tokens(line) {
		if token.Class == Comment {
			wantComment = token.Span
		}
	}
	assert.Equal(t, wantComment, comment, "comment of %q", line)
}

func isRow(line string) bool {
	start := strings.TrimLeft(line, " \t")
	return start != "" && start[0] != '#' && !strings.Contains(line, "\n")
}

// oddAtoms are atoms at the edges of their classes, right and wrong ones.
var oddAtoms = []string{
	".", "..", "...", "0", "-0", "+0", "00", "0.0", "1.", ".5", "-.5", "1.5", "+4", "-", "+", "--1", "1e3", "1E3", "1_000", "0x1p4",
	"1~", "1^", "1>", "1=", "1@2", "1@-3,1.5", "1@", "1@2,", "1@2,3,4", "1~~", "1 ~", "^", "1^2", "1@2@3", "-2@+8", "1@.5", "1@1.",
	"1f", "1b", "1s", "3/2b", "3/2f", "1/0b", "-1/0b", "2b+3f", "2b-3f", "2b+-3f", "2b3f", "2b+", "+2b", "-2b+1f", "3/2.5b", "3.5/2b", "b", "1.5.2b", "2b+3", "1F",
	"99999999999999999f", "9223372036854775807f", "9223372036854775808f", "99999999999999999999b", "1/9223372036854775807b+1/9223372036854775806b",
	"60%", "-1%", "1.5%", "%", "%%", "1%%", "80bpm", "24fps", "24000/1001fps", "1.8Hz", "1hz", "0.3cm", "2cm/s", "2deg/s", "2m",
	"hips", "arm.left", "on-left", "on-", "on-.left", "a.", ".a", "a..b", "a-b-c", "a_", "_a", "a.b.c", "a.-b", "a.b-", "a.1", "1a", "é", "e\u0301", "手.左", "a/b", "a/b/c", "a/", "/b", "a.b/c-d", "a./b", "a/b.", "a//b",
	"arm.*", "*", "*/lift", "arm*/*", "**", "a*b/c*d/e", "*.", "-12..12", "0b..4b", "0..4b", "0.6..2.5Hz", "1..2", "1...2", "1..", "..2", "1..2..3", "1..2b", "a..b",
	"+x", "-z", "+w", "+xy", "0.3,0,0.1,1", "0,0,0", "0,0,0,0,0", "0.01cm,0.05deg,0.05%", "600keys,20kB", "8x", "0.4deg,8X", "8xx", "1cm,2", "1,2", "24000/1001", "1/2",
	`"a"`, `""`, `"a b"`, `"#"`, `"a`, `"`, `a"b"`, `"a"b`, `"a""b"`, "#", "a#b", "1#", "−2", "2,4", "80\u00a0bpm", "\u00a0", "\ufeff1", "\x00", "\xff", "a\xff", "\r", "1\r",
	strings.Repeat("9", 400), strings.Repeat("9", 400) + "%", strings.Repeat("9", 400) + "^", "1@" + strings.Repeat("9", 400), "0." + strings.Repeat("1", 60), "123456789012345", "1234567890123456", "0.1234567890123456", "-0.000000000000001",
}

func TestRowReaderReadsWhatTheProductionDefines(t *testing.T) {
	for _, atom := range oddAtoms {
		for _, line := range []string{atom, "  " + atom, "  0b\t" + atom + " 1", atom + "# c", atom + " " + atom} {
			if isRow(line) {
				assertOneRow(t, line)
			}
		}
	}
	for _, line := range sheetLines(t) {
		if isRow(line) {
			assertOneRow(t, line)
		}
	}
}

func TestRowReaderReadsRandomRowsAsTheProductionDoes(t *testing.T) {
	atom := rapid.OneOf(
		rapid.SampledFrom(oddAtoms),
		rapid.StringMatching(`[+-]?[0-9]{1,3}(\.[0-9]{1,3})?[~^>=%fbs@]?`),
		rapid.StringMatching(`[0-9./bfs+-]{1,8}`),
		rapid.StringMatching(`[a-z0-9._/*-]{1,8}`),
		rapid.StringMatching(`[0-9.,cmdeg%]{1,8}`),
	)
	rapid.Check(t, func(t *rapid.T) {
		line := strings.Join(rapid.SliceOfN(atom, 1, 6).Draw(t, "atoms"), rapid.SampledFrom([]string{" ", "  ", "\t", ""}).Draw(t, "between"))
		if isRow(line) {
			assertOneRow(t, line)
		}
	})
}

func FuzzRow(f *testing.F) {
	for _, line := range sheetLines(f) {
		f.Add(line)
	}
	for _, atom := range oddAtoms {
		f.Add("  0b " + atom)
	}
	f.Fuzz(func(t *testing.T, line string) {
		if isRow(line) {
			assertOneRow(t, line)
		}
	})
}

// sheetTexts are all sheets of testdata, by path.
func sheetTexts(t testing.TB) map[string]string {
	paths, err := filepath.Glob("../testdata/*/*.motet")
	require.NoError(t, err)
	require.NotEmpty(t, paths)
	texts := map[string]string{}
	for _, path := range paths {
		text, err := os.ReadFile(path)
		require.NoError(t, err)
		texts[path] = string(text)
	}
	return texts
}

func sheetLines(t testing.TB) []string {
	var lines []string
	for _, text := range sheetTexts(t) {
		lines = append(lines, strings.Split(text, "\n")...)
	}
	return lines
}

// A row longer than a slab, and rows at a slab's end, keep their cells.
func TestRowReaderCarvesCellsFromSlabs(t *testing.T) {
	for _, cells := range []int{1, 3, 7, 100, 1000, 5000} {
		r := rowReader{expect: 64}
		line := strings.Repeat(" 2@1", cells)
		var rows [][]Cell
		for range 200 {
			row, _, ok := r.read(line)
			require.True(t, ok)
			rows = append(rows, row)
		}
		for _, row := range rows {
			require.Len(t, row, cells)
			for i, cell := range row {
				if want := (Cell{Span: Span{4*i + 1, 4*i + 4}, Class: Marked, Shape: SlopeMark, Value: 2, Slope: cell.Slope}); cell != want || *cell.Slope != (Slopes{1, 1}) {
					require.Equal(t, want, cell)
				}
			}
		}
	}
}
