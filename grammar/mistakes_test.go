package grammar

import (
	"fmt"
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const mistakesFile = "../testdata/grammar/mistakes.txt"

var reReport = regexp.MustCompile(`^ *\^+ `)

// What an animator may mistype, and what is said about it. The file holds both: small texts, and under each line with a
// fault the place of the fault and the message, with the mend in brackets.
func TestMistakes(t *testing.T) {
	data, err := os.ReadFile(mistakesFile)
	require.NoError(t, err)
	var want, got []string
	for _, annotated := range strings.Split(string(data), "----\n") {
		var text strings.Builder
		for _, line := range strings.SplitAfter(annotated, "\n") {
			if !reReport.MatchString(line) {
				text.WriteString(line)
			}
		}
		want = append(want, annotated)
		got = append(got, reportMistakes(t, text.String()))
	}
	if *update {
		require.NoError(t, os.WriteFile(mistakesFile, []byte(strings.Join(got, "----\n")), 0o644))
		return
	}
	for i := range want {
		assert.Equal(t, want[i], got[i])
	}
}

func reportMistakes(t *testing.T, text string) string {
	var out strings.Builder
	f := Parse("x.motet", text)
	faults := 0
	for _, b := range f.Blocks {
		for i := range b.Lines {
			l := &b.Lines[i]
			out.WriteString(l.Text + "\n")
			if l.Fault == nil {
				continue
			}
			faults++
			before := columns(l.Text[:l.Fault.Span.Start])
			fmt.Fprintf(&out, "%s%s %s", strings.Repeat(" ", before), strings.Repeat("^", max(columns(l.Text[l.Fault.Span.Start:l.Fault.Span.End]), 1)), l.Fault.Message)
			if l.Fault.Title != "" {
				fmt.Fprintf(&out, " [%s]", l.Fault.Title)
			}
			out.WriteByte('\n')
			assertGoodFault(t, f, b, i)
		}
	}
	assert.Positive(t, faults, "something is wrong with %q", text)
	return out.String()
}

var reMessageStart = regexp.MustCompile("^[a-z`]")

// assertGoodFault holds a message to the style of all messages, and a mend to mending: the line parses then, or what is
// wrong with it is something else.
func assertGoodFault(t *testing.T, f *File, b *Block, line int) {
	fault := b.Lines[line].Fault
	assert.Regexp(t, reMessageStart, fault.Message)
	assert.NotRegexp(t, `\.$`, fault.Message)
	assert.NotContains(t, fault.Message, "invalid")
	assert.Equal(t, fault.Title == "", len(fault.Edits) == 0, "%q", fault.Message)
	var edits []Edit
	for _, e := range fault.Edits {
		span, _ := f.Locate(b.Ref(line, e.Span))
		edits = append(edits, Edit{span, e.Text})
	}
	if len(edits) == 0 {
		return
	}
	mended, err := Apply(f.Text, edits)
	require.NoError(t, err)
	number, _ := f.LineNumber(b.Ref(line, Span{}))
	again := Parse("x.motet", mended)
	ref := again.RefAt(again.LineStart(number))
	if now := ref.Block.Lines[ref.Line].Fault; now != nil {
		assert.NotEqual(t, fault.Message, now.Message, "mended: %s", mended)
	}
}
