package report

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint"
	"github.com/motet-sheet/motet/lint/motion"
)

func finding(level lint.Level) Finding {
	at := placeOf("sheet a\n  cycle ‹4›\n")
	return Finding{Rule: "syntax", Level: level, At: at, Message: "`4` has no unit\x07", Mends: []Mend{
		{Title: "write `4b`", Safe: true, Edits: []Edit{{at, "4b"}}},
		{Title: "make it seconds", Edits: []Edit{{at, "4s"}}},
	}}
}

func TestTextSaysWhatFixWouldDo(t *testing.T) {
	var out strings.Builder
	text := Text{Out: &out, Fixes: true}
	text.Findings([]Finding{finding(lint.Warning)})
	text.Summary(Totals{Files: 1, Sheets: 1, Keys: 1, Warnings: 1, Mendable: 1})
	assert.Equal(t, `a.motet:2:9: warning syntax
  2 |   cycle 4
    |         ^
  `+"`4` has no unit␇"+`
  mend (--fix): write `+"`4b`"+`
  mend: make it seconds (`+"`4` becomes `4s`"+`)

checked 1 file (1 sheet with 1 key): 1 warning
`+"`motet check --fix`"+` applies the mends of 1 of them, as far as nothing gets worse
`, out.String())
}

func TestColoursFrameTheSameText(t *testing.T) {
	for _, level := range []lint.Level{lint.Note, lint.Warning, lint.Error} {
		var plain, coloured strings.Builder
		(&Text{Out: &plain}).Findings([]Finding{finding(level), finding(level)})
		(&Text{Out: &coloured, Color: true}).Findings([]Finding{finding(level), finding(level)})
		bare := coloured.String()
		for _, style := range []string{bold, faint, green, red, yellow, cyan, "0"} {
			bare = strings.ReplaceAll(bare, "\x1b["+style+"m", "")
		}
		assert.Equal(t, plain.String(), bare)
		assert.Contains(t, coloured.String(), "\x1b["+levelStyle(level)+"m"+level.String()+"\x1b[0m")
	}
}

func TestSummaries(t *testing.T) {
	tests := []struct {
		totals Totals
		want   string
	}{
		{Totals{}, "checked 0 files: nothing to report"},
		{Totals{Files: 1, Rigs: 1}, "checked 1 file (1 rig): nothing to report"},
		{Totals{Files: 3, Sheets: 2, Rigs: 2, Keys: 40, Errors: 1, Warnings: 2, Notes: 1}, "checked 3 files (2 sheets with 40 keys, 2 rigs): 1 error, 2 warnings, 1 note"},
	}
	for _, test := range tests {
		assert.Equal(t, test.want, test.totals.sentence())
	}
}

// TestJSONIsOneObject reads back what was written; that its shape stays is held by testdata/script/check_json.txtar.
func TestJSONIsOneObject(t *testing.T) {
	var out strings.Builder
	j := JSON{Out: &out}
	j.Mended([]Mended{{"a.motet", 3, "syntax", "write <b>"}})
	j.Findings(nil)
	j.Findings([]Finding{finding(lint.Error)})
	j.Findings([]Finding{finding(lint.Note), finding(lint.Warning)})
	j.Close([]Failure{{"b.motet", "it is a folder"}}, Totals{Files: 2, Errors: 1})
	var read struct {
		Format   string
		Findings []struct {
			Level string
			Span  struct {
				Start, End struct{ Byte, Line, Column int }
			}
			Mends []struct{ Edits []struct{ Text string } }
		}
		Mended   []struct{ Title string }
		Failures []struct{ Path string }
		Totals   struct{ Files, Errors int }
	}
	decoder := json.NewDecoder(strings.NewReader(out.String()))
	require.NoError(t, decoder.Decode(&read))
	assert.False(t, decoder.More(), "one object and no more")
	assert.Equal(t, Format, read.Format)
	require.Len(t, read.Findings, 3)
	assert.Equal(t, "note", read.Findings[1].Level)
	assert.Equal(t, 16, read.Findings[0].Span.Start.Byte)
	assert.Equal(t, 17, read.Findings[0].Span.End.Byte)
	assert.Equal(t, 2, read.Findings[0].Span.Start.Line)
	assert.Equal(t, 9, read.Findings[0].Span.Start.Column)
	assert.Equal(t, "4b", read.Findings[0].Mends[0].Edits[0].Text)
	assert.Equal(t, "write <b>", read.Mended[0].Title)
	assert.Equal(t, "b.motet", read.Failures[0].Path)
	assert.Equal(t, 2, read.Totals.Files)
	assert.Contains(t, out.String(), "write <b>", "texts stand as they are")
}

// TestPlacesThatNobodyKnows are left out: half a mend is none.
func TestPlacesThatNobodyKnows(t *testing.T) {
	here, elsewhere := grammar.Parse("a.motet", "sheet a\n"), grammar.Parse("b.motet", "rig b\n")
	at, lost := here.Blocks[0].RefLine(0), elsewhere.Blocks[0].RefLine(0)
	locate := func(ref grammar.Ref) (Place, bool) {
		span, ok := here.Locate(ref)
		return Place{"a.motet", here, span}, ok
	}
	got := Of([]lint.Finding{
		{Rule: "x", At: lost},
		{
			Rule: "y", At: at, Related: []motion.Related{{At: lost}, {At: at, Message: "here"}},
			Mends: []motion.Mend{{Title: "half", Edits: []motion.Edit{{At: at}, {At: lost}}}, {Title: "whole", Edits: []motion.Edit{{At: at}}}},
		},
	}, locate)
	require.Len(t, got, 1)
	assert.Equal(t, "y", got[0].Rule)
	require.Len(t, got[0].Related, 1)
	assert.Equal(t, "here", got[0].Related[0].Message)
	require.Len(t, got[0].Mends, 1)
	assert.Equal(t, "whole", got[0].Mends[0].Title)
}

func TestPreviewsShowWholeCells(t *testing.T) {
	tests := []struct{ text, write, title, want string }{
		{"  0b      ‹1.5›^    2", "3", "raise it", " (`1.5^` becomes `3^`)"},
		{"  0b      1.‹5›", "25", "lower it", " (`1.5` becomes `1.25`)"},
		{"  0b      ‹1.5›", "3", "write `3`", ""},
		{"  ‹tempo     85 bpm›", "beat      17f", "make it whole", " (`tempo 85 bpm` becomes `beat 17f`)"},
		{"  0b      1.5‹›", " .", "fill the row", ""},
		{"  0b      ‹1.5›", "", "drop it", ""},
		{"  0b      ‹1.5›", "1\n  1b      2", "add a row", ""},
		{"  0b      ‹1.5›", "1.23456789012345678901234", "write the idle's value", ""},
	}
	for _, test := range tests {
		m := Mend{Title: test.title, Edits: []Edit{{placeOf(test.text), test.write}}}
		assert.Equal(t, test.want, m.preview(), test.text)
	}
}
