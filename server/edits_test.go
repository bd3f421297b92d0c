package server

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/motet-sheet/motet/grammar"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestLineEdits(t *testing.T) {
	for _, row := range []struct {
		name, before, after string
		want                []grammar.Edit
	}{
		{"equal", "a\nb\n", "a\nb\n", nil},
		{"both empty", "", "", nil},
		{"a padded cell", "  0b   1\n  2b  2\n", "  0b      1\n  2b  2\n", []grammar.Edit{replacing(7, 7, "   ")}},
		{"a blank line between", "a\nb\n", "a\n\nb\n", []grammar.Edit{replacing(2, 2, "\n")}},
		{"a line moved down", "x\na\nb\n", "a\nb\nx\n", []grammar.Edit{replacing(0, 2, ""), replacing(6, 6, "x\n")}},
		{"the last line end", "a\nb", "a\nb\n", []grammar.Edit{replacing(3, 3, "\n")}},
		{"all of it", "ab\n", "", []grammar.Edit{replacing(0, 3, "")}},
		{"into nothing", "", "ab\n", []grammar.Edit{replacing(0, 0, "ab\n")}},
		{"neighbouring lines", "aa\nbb\ncc\n", "aX\nbX\ncc\n", []grammar.Edit{replacing(1, 2, "X"), replacing(4, 5, "X")}},
		{"a character that shares its first byte", "é\n", "è\n", []grammar.Edit{replacing(0, 2, "è")}},
		{"a face that shares its last byte", "x😀\n", "x🐀\n", []grammar.Edit{replacing(1, 5, "🐀")}},
		{"CRLF to LF", "a\r\nb\r\n", "a\nb\r\n", []grammar.Edit{replacing(1, 3, "\n")}},
	} {
		t.Run(row.name, func(t *testing.T) {
			require.Equal(t, row.want, lineEdits(row.before, row.after))
		})
	}
}

func TestLineEditsMakeTheNewText(t *testing.T) {
	words := rapid.SampledFrom([]string{"a", "b", "é", "😀", " ", "\n", "\r\n", "\r", "a\n", "track\n"})
	texts := rapid.Custom(func(t *rapid.T) string { return strings.Join(rapid.SliceOfN(words, 0, 40).Draw(t, "words"), "") })
	rapid.Check(t, func(t *rapid.T) {
		before, after := texts.Draw(t, "before"), texts.Draw(t, "after")
		all := lineEdits(before, after)
		if got, err := grammar.Apply(before, all); err != nil || got != after {
			t.Fatalf("%q became %q, not %q, by %v", before, got, after, all)
		}
		for i, e := range all {
			if 0 < i && e.Span.Start <= all[i-1].Span.End {
				t.Fatalf("%v touches the edit before it in %v", e, all)
			}
			if !utf8.ValidString(before[:e.Span.Start]) || !utf8.ValidString(e.Text) {
				t.Fatalf("%v cuts a character of %q", e, before)
			}
			for _, u := range []units{utf8Units, utf16Units, utf32Units} {
				m := newTextMap(before, u)
				if m.offsetOf(m.positionOf(e.Span.Start)) != e.Span.Start || m.offsetOf(m.positionOf(e.Span.End)) != e.Span.End {
					t.Fatalf("%v is no place of %q in %s", e, before, u)
				}
			}
		}
	})
}

// Every line of a long sheet changes, or lines move far: the time stays in proportion to the length.
func BenchmarkLineEdits(b *testing.B) {
	random := rand.New(rand.NewPCG(1, 2))
	var before, padded, shuffled []string
	for i := range 10_000 {
		before = append(before, fmt.Sprintf("  %db %d\n", i, random.IntN(90)))
		padded = append(padded, strings.Replace(before[i], "b ", "b      ", 1))
	}
	shuffled = append(shuffled, before...)
	random.Shuffle(len(shuffled), func(i, j int) { shuffled[i], shuffled[j] = shuffled[j], shuffled[i] })
	for name, after := range map[string][]string{"equal": before, "padded": padded, "shuffled": shuffled} {
		b.Run(name, func(b *testing.B) {
			old, text := strings.Join(before, ""), strings.Join(after, "")
			for range b.N {
				lineEdits(old, text)
			}
		})
	}
}
