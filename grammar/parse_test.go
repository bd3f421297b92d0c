package grammar

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// faults gives what is wrong with each line of a text, by line number from 1.
func faults(f *File) map[int]string {
	out := map[int]string{}
	for _, b := range f.Blocks {
		for i := range b.Lines {
			if fault := b.Lines[i].Fault; fault != nil {
				n, _ := f.LineNumber(b.Ref(i, Span{}))
				out[n+1] = fault.Message
			}
		}
	}
	return out
}

func TestBrokenLinesCostOnlyThemselves(t *testing.T) {
	for name, c := range map[string]struct {
		text string
		want map[int]string
	}{
		"misspelt block word mutes its body": {
			"trakc head\n  at nod\n  0b 3 3 3\n", map[int]string{1: "`trakc` does not open a block; did you mean `track`?"},
		},
		"broken header row mutes its rows": {
			"track head\n  at nod nod\n  0b 3 3 3\n", map[int]string{2: "the column `nod` is named twice; leave one out"},
		},
		"a missing opening line is one error": {
			"  rig a in \"b\"\n  rate 24 fps\n  cycle 4b\n", map[int]string{1: "this line belongs to no block; open one above it, such as `sheet NAME` or `track CONTROL`"},
		},
		"decimal comma": {"pose a\n  hips/side 2,4\n", map[int]string{2: "`2,4` has a decimal comma; write a point"}},
		"typographic minus": {
			"pose a\n  hips/side −2\n", map[int]string{2: "`−2` has a typographic minus sign; write - (hyphen)"},
		},
		"no-break space": {
			"sheet a\n  tempo 80\u00a0bpm\n", map[int]string{2: "`80\u00a0bpm` has a no-break space in it; use an ordinary space"},
		},
		"a column-1 body line is read all the same": {
			"sheet a\n  rate 24 fps\ntempo 80 bpm\n", map[int]string{3: "this line belongs to `sheet` above, but is not indented; body lines start with two spaces"},
		},
	} {
		t.Run(name, func(t *testing.T) { assert.Equal(t, c.want, faults(Parse("x.motet", c.text))) })
	}
}

func TestRefsStayGoodWhenTextAboveChanges(t *testing.T) {
	old := Parse("x.motet", "sheet a\n  cycle 4b\n\ntrack head\n  at nod\n  1b 3\n")
	track := old.First(TrackBlock)
	ref := track.Ref(2, track.Lines[2].Cells[1].Span)
	now := Reparse(old, "x.motet", "sheet a\n  rate 24 fps\n  cycle 4b\n\ntrack head\n  at nod\n  1b 3\n")
	require.Same(t, track, now.First(TrackBlock))
	span, ok := now.Locate(ref)
	require.True(t, ok)
	assert.Equal(t, "3", now.Text[span.Start:span.End])
	line, _ := now.LineNumber(ref)
	assert.Equal(t, 6, line)
}

func TestRefAt(t *testing.T) {
	f := Parse("x.motet", "# c\n\nsheet a\n  cycle 4b\n")
	for _, c := range []struct {
		at, line, column int
		word             string
	}{{-5, 0, 0, "# c"}, {2, 0, 2, "# c"}, {4, 1, 0, ""}, {7, 0, 2, "sheet a"}, {17, 1, 4, "  cycle 4b"}, {99, 1, 86, "  cycle 4b"}} {
		ref := f.RefAt(c.at)
		assert.Equal(t, c.line, ref.Line, "byte %d", c.at)
		assert.Equal(t, c.word, ref.Block.Lines[ref.Line].Text, "byte %d", c.at)
		assert.Equal(t, Span{c.column, c.column}, ref.Span, "byte %d", c.at)
	}
	assert.True(t, Parse("x.motet", "").RefAt(0).IsZero())
}

func TestUTF16IsNamed(t *testing.T) {
	for _, mark := range []string{"\xff\xfe", "\xfe\xff"} { // the byte order marks of UTF-16 (Unicode Standard, 23.8)
		f := Parse("x.motet", mark+"s\x00h\x00e\x00e\x00t\x00\n\x00")
		require.NotNil(t, f.Blocks[0].Lines[0].Fault)
		assert.Contains(t, f.Blocks[0].Lines[0].Fault.Message, "not UTF-8 text but UTF-16")
	}
}
