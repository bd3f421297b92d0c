package grammar

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/txtar"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// checkFormat formats a text and holds the answer to what format promises of every text.
func checkFormat(t *testing.T, text, want string) {
	t.Helper()
	f := Parse("x.motet", text)
	got := Format(f)
	assert.Equal(t, want, got)
	assert.Equal(t, want, Format(Parse("x.motet", want)), "formatted twice")
	applied, err := Apply(text, FormatEdits(f))
	require.NoError(t, err)
	assert.Equal(t, want, applied, "by edits")
}

func TestFormatExamples(t *testing.T) {
	paths, err := filepath.Glob("../testdata/format/*.txtar")
	require.NoError(t, err)
	require.NotEmpty(t, paths)
	for _, path := range paths {
		archive, err := txtar.ParseFile(path)
		require.NoError(t, err)
		t.Run(filepath.Base(path), func(t *testing.T) {
			require.Len(t, archive.Files, 2)
			checkFormat(t, string(archive.Files[0].Data), string(archive.Files[1].Data))
		})
	}
}

func TestFormatLineEnds(t *testing.T) {
	for name, c := range map[string]struct{ text, want string }{
		"empty":                      {"", ""},
		"blank":                      {"\n  \n\n", ""},
		"byte order mark alone":      {"\ufeff", "\ufeff"},
		"byte order mark":            {"\ufeff\nsheet  a", "\ufeffsheet a\n"},
		"crlf":                       {"sheet a\r\n cycle 4b\r\ntrack a\r\n at x\r\n", "sheet a\r\n  cycle     4b\r\n\r\ntrack a\r\n  at      x\r\n"},
		"crlf without a last end":    {"sheet a\r\n cycle 4b", "sheet a\r\n  cycle     4b\r\n"},
		"mixed":                      {"sheet a\n cycle 4b\r\n", "sheet a\n  cycle     4b\r\n"},
		"white space at line ends":   {"sheet a  \n  cycle 4b\t# c \t\n", "sheet a\n  cycle     4b              # c\n"},
		"stray return in a comment":  {"# c \r\r", "# c\r\n"},
		"returns and no line feed":   {"\r\r", "\r\r\n"},
		"stray return kept":          {"sheet a\r\r\n", "sheet a\r\r\n"},
		"broken line before the end": {"sheet a\n cycle 4b  x ", "sheet a\n cycle 4b  x \n"},
	} {
		t.Run(name, func(t *testing.T) { checkFormat(t, c.text, c.want) })
	}
}

func TestFormatTimes(t *testing.T) {
	for text, want := range map[string]string{
		"1.5b": "3/2b", "6/4b": "3/2b", "2b+0f": "2b", "3f+2b": "2b+3f", "1b+1b": "2b", "3/2s": "1.5s", "1/3s": "1/3s",
		"36f": "36f", "0.5f": "0.5f", "73/2f": "36.5f", "55/3f": "55/3f", "0b": "0b", "0f+0b": "0f", "1b-1b": "0b", "0": "0", "+2b": "2b", "-1b": "-1b", "4b-1f": "4b-1f",
		"0.750s": "0.75s", "99999999999999999999b": "99999999999999999999b",
	} {
		assert.Equal(t, want, printTime(text), text)
	}
}

// The order of rows is changed only where it is certain.
func TestFormatSortsRowsByExactTime(t *testing.T) {
	for name, c := range map[string]struct{ header, rows, want string }{
		"one unit needs no tempo":      {"", "2b 1b 3/2b", "1b 3/2b 2b"},
		"sums that hold at any tempo":  {"", "2b+3f 2b 1b-1f", "1b-1f 2b 2b+3f"},
		"two units and no header":      {"", "1b 2f", "1b 2f"},
		"two units, header's defaults": {"sheet a", "1b 2f", "2f 1b"},
		"a beat of 18 frames":          {"sheet a\n  tempo 80 bpm", "1b 17f 19f 18f 0.5s", "0.5s 17f 1b 18f 19f"},
		"a beat in frames":             {"sheet a\n  beat 12f", "1b 13f 11f", "11f 1b 13f"},
		"a base's tempo":               {"sheet a\n  from b in \"b.motet\"", "1b 2f", "1b 2f"},
		"a base, overridden":           {"sheet a\n  from b in \"b.motet\"\n  rate 24 fps\n  tempo 80 bpm", "1b 2f", "2f 1b"},
		"a header with a broken line":  {"sheet a\n  tempo 80", "1b 2f", "1b 2f"},
		"two tempos":                   {"sheet a\n  tempo 80 bpm\n  beat 18f", "1b 2f", "1b 2f"},
	} {
		t.Run(name, func(t *testing.T) {
			table := func(times string) string {
				return "track head\n  at nod\n  " + strings.ReplaceAll(times, " ", " 1\n  ") + " 1\n"
			}
			f := Parse("x.motet", Format(Parse("x.motet", c.header+"\n"+table(c.rows))))
			var got []string
			track := f.First(TrackBlock)
			for i := range track.Rows() {
				got = append(got, track.Lines[i].CellText(0))
			}
			assert.Equal(t, c.want, strings.Join(got, " "))
		})
	}
}

func TestFormatEditsAreSmall(t *testing.T) {
	text := "sheet a\n  cycle     4b\n\ntrack head\n  at      nod\n  0b      é1,5\n  1b      2  # ö\n"
	edits := FormatEdits(Parse("x.motet", text))
	require.Len(t, edits, 1)
	assert.Equal(t, Edit{Span{len(text) - 5, len(text) - 5}, "     "}, edits[0])
}

func TestFormatLeavesTheDemoAsItIs(t *testing.T) {
	paths, err := filepath.Glob("../testdata/quay/*.motet")
	require.NoError(t, err)
	require.NotEmpty(t, paths)
	for _, path := range paths {
		text, err := os.ReadFile(path)
		require.NoError(t, err)
		assert.Empty(t, FormatEdits(Parse(path, string(text))), path)
	}
}

func TestApply(t *testing.T) {
	for name, c := range map[string]struct {
		edits []Edit
		want  string
		fails string
	}{
		"in any order":                      {[]Edit{{Span{4, 5}, "E"}, {Span{0, 1}, "A"}}, "AbcdEf", ""},
		"insertions keep their order":       {[]Edit{{Span{2, 2}, "1"}, {Span{2, 2}, "2"}}, "ab12cdef", ""},
		"an insertion before a replacement": {[]Edit{{Span{2, 3}, "C"}, {Span{2, 2}, "1"}}, "ab1Cdef", ""},
		"touching":                          {[]Edit{{Span{0, 2}, ""}, {Span{2, 4}, "x"}}, "xef", ""},
		"overlapping":                       {[]Edit{{Span{0, 3}, ""}, {Span{2, 4}, "x"}}, "", "overlaps one that ends at byte 3"},
		"the same twice":                    {[]Edit{{Span{0, 3}, ""}, {Span{0, 3}, ""}}, "", "overlaps"},
		"outside":                           {[]Edit{{Span{5, 7}, ""}}, "", "does not lie in a text of 6 bytes"},
		"backward":                          {[]Edit{{Span{3, 2}, ""}}, "", "does not lie"},
	} {
		t.Run(name, func(t *testing.T) {
			got, err := Apply("abcdef", c.edits)
			if c.fails != "" {
				require.ErrorContains(t, err, c.fails)
				return
			}
			require.NoError(t, err)
			assert.Equal(t, c.want, got)
		})
	}
}
