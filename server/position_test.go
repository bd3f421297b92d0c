package server

import (
	"strings"
	"testing"
	"unicode/utf16"
	"unicode/utf8"

	"github.com/stretchr/testify/require"
	"go.lsp.dev/protocol"
	"pgregory.net/rapid"
)

// Each row is one place of a text, as an offset and as the character that each unit counts there. The widths are those
// of the Unicode Standard's encoding forms (chapter 3.9): é is 2 bytes and 1 unit, 😀 is 4 bytes, 2 units of UTF-16 and
// 1 of UTF-32, e with a combining acute is 3 bytes and 2 units.
func TestPositionsInEachUnit(t *testing.T) {
	for _, row := range []struct {
		name              string
		text              string
		offset            int
		line              uint32
		utf8, utf16, utf3 uint32
	}{
		{"start", "track head", 0, 0, 0, 0, 0},
		{"ascii", "track head", 6, 0, 6, 6, 6},
		{"end without a final newline", "track head", 10, 0, 10, 10, 10},
		{"behind a final newline", "track\n", 6, 1, 0, 0, 0},
		{"empty text", "", 0, 0, 0, 0, 0},
		{"after an accent", "pose né", 8, 0, 8, 7, 7},
		{"before a face", "# 😀!", 2, 0, 2, 2, 2},
		{"after a face", "# 😀!", 6, 0, 6, 4, 3},
		{"after a combining mark", "e\u0301!", 3, 0, 3, 2, 2},
		{"second line", "é\n😀x", 7, 1, 4, 2, 1},
		{"second line after CRLF", "é\r\n😀x", 8, 1, 4, 2, 1},
		{"end of a line that ends with CRLF", "ab\r\ncd", 2, 0, 2, 2, 2},
		{"after a lone CR, a line end of the protocol", "ab\rcd", 4, 1, 1, 1, 1},
		{"after a byte order mark, which is a character", "\ufefftrack", 3, 0, 3, 1, 1},
		{"after a no-break space", "0b\u00a01.5", 4, 0, 4, 3, 3},
	} {
		t.Run(row.name, func(t *testing.T) {
			for u, character := range map[units]uint32{utf8Units: row.utf8, utf16Units: row.utf16, utf32Units: row.utf3} {
				m := newTextMap(row.text, u)
				want := protocol.Position{Line: row.line, Character: character}
				require.Equal(t, want, m.positionOf(row.offset), "%s", u)
				require.Equal(t, row.offset, m.offsetOf(want), "%s", u)
			}
		})
	}
}

func TestPositionsOutsideTheTextAreClamped(t *testing.T) {
	for _, row := range []struct {
		name            string
		text            string
		units           units
		line, character uint32
		offset          int
	}{
		{"past the end of a line", "ab\ncd", utf16Units, 0, 9, 2},
		{"past the end of a CRLF line", "ab\r\ncd", utf16Units, 0, 3, 2},
		{"past the last line", "ab\ncd", utf16Units, 7, 0, 5},
		{"the largest numbers", "ab\ncd", utf16Units, 1<<32 - 1, 1<<32 - 1, 5},
		{"the largest character", "é😀", utf32Units, 0, 1<<32 - 1, 6},
		{"inside a surrogate pair", "a😀b", utf16Units, 0, 2, 1},
		{"inside a UTF-8 sequence", "a😀b", utf8Units, 0, 3, 1},
		{"in an empty text", "", utf8Units, 3, 3, 0},
	} {
		t.Run(row.name, func(t *testing.T) {
			m := newTextMap(row.text, row.units)
			require.Equal(t, row.offset, m.offsetOf(protocol.Position{Line: row.line, Character: row.character}))
		})
	}
}

func TestOffsetsThatAreNoPlaceOfTheTextGiveTheNearestOne(t *testing.T) {
	m := newTextMap("a😀\r\nb", utf16Units)
	require.Equal(t, protocol.Position{}, m.positionOf(-4))
	require.Equal(t, protocol.Position{Line: 1, Character: 1}, m.positionOf(99))
	require.Equal(t, protocol.Position{Character: 1}, m.positionOf(3), "inside the face")
	require.Equal(t, protocol.Position{Character: 3}, m.positionOf(6), "between CR and LF")
}

func TestChangesOfTheText(t *testing.T) {
	at := func(line, character uint32) protocol.Position {
		return protocol.Position{Line: line, Character: character}
	}
	for _, row := range []struct {
		name       string
		text       string
		units      units
		start, end protocol.Position
		inserted   string
		want       string
	}{
		{"insert", "ac", utf16Units, at(0, 1), at(0, 1), "b", "abc"},
		{"replace over two lines", "ab\ncd\n", utf16Units, at(0, 1), at(1, 1), "-", "a-d\n"},
		{"delete a CRLF line end", "ab\r\ncd", utf16Units, at(0, 2), at(1, 0), "", "abcd"},
		{"delete behind a face", "😀xy", utf16Units, at(0, 2), at(0, 3), "", "😀y"},
		{"delete a face", "a😀b", utf32Units, at(0, 1), at(0, 2), "", "ab"},
		{"append past the end", "ab", utf8Units, at(9, 9), at(9, 9), "\n", "ab\n"},
		{"a range that ends before it starts", "abcd", utf8Units, at(0, 3), at(0, 1), "", "ad"},
		{"cut off the second half of a pair", "a😀b", utf16Units, at(0, 2), at(0, 3), "", "a\ufffdb"},
		{"cut off the first half of a pair", "a😀b", utf16Units, at(0, 1), at(0, 2), "", "a\ufffdb"},
		{"insert between the halves of a pair", "a😀b", utf16Units, at(0, 2), at(0, 2), "x", "a\ufffdx\ufffdb"},
		{"half of one pair meets half of the next", "😀🙁", utf16Units, at(0, 1), at(0, 3), "", "🙁"}, // both begin with D83D
		{"between two pairs", "😀🙁", utf16Units, at(0, 1), at(0, 3), "x", "\ufffdx\ufffd"},
	} {
		t.Run(row.name, func(t *testing.T) {
			m := newTextMap(row.text, row.units)
			require.Equal(t, newTextMap(row.want, row.units), m.replaced(protocol.Range{Start: row.start, End: row.end}, row.inserted))
		})
	}
}

// The client keeps its text as the units that it counts in, and changes it by its own arithmetic; the server must hold
// the same text after every change.
func TestChangesAgreeWithAClientThatCountsUnits(t *testing.T) {
	words := rapid.SampledFrom([]string{"a", "é", "😀", "e\u0301", "\n", "\r\n", "\ufeff", "track", " ", "漢", "𝄞"})
	pieces := rapid.Custom(func(t *rapid.T) string { return strings.Join(rapid.SliceOfN(words, 0, 8).Draw(t, "words"), "") })
	rapid.Check(t, func(t *rapid.T) {
		u := rapid.SampledFrom([]units{utf8Units, utf16Units, utf32Units}).Draw(t, "units")
		encode, decode := clientUnits(u)
		theirs := encode(pieces.Draw(t, "text"))
		ours := decode(theirs)
		for range 4 {
			start := rapid.IntRange(0, len(theirs)).Draw(t, "start")
			end := rapid.IntRange(start, len(theirs)).Draw(t, "end")
			if u == utf8Units && !(boundary(theirs, start) && boundary(theirs, end)) {
				continue // a client cannot cut a byte sequence and still send its text as JSON
			}
			r := protocol.Range{Start: clientPosition(theirs, start), End: clientPosition(theirs, end)}
			if !inLine(theirs, start) || !inLine(theirs, end) {
				continue
			}
			inserted := pieces.Draw(t, "inserted")
			ours = newTextMap(ours, u).replaced(r, inserted).text
			theirs = append(append(append([]uint32{}, theirs[:start]...), encode(inserted)...), theirs[end:]...)
			if decode(theirs) != ours {
				t.Fatalf("%s: client has %q, server has %q", u, decode(theirs), ours)
			}
			theirs = encode(ours) // half a pair has become a replacement character on both sides
		}
	})
}

// The map of a changed text, made from the one before, is the map of the new text.
func TestLinesOfAChangedTextAreThoseOfTheNewOne(t *testing.T) {
	words := rapid.SampledFrom([]string{"a", "é", "😀", "\n", "\r\n", "\r", "\n\r", " "})
	pieces := rapid.Custom(func(t *rapid.T) string { return strings.Join(rapid.SliceOfN(words, 0, 12).Draw(t, "words"), "") })
	rapid.Check(t, func(t *rapid.T) {
		m := newTextMap(pieces.Draw(t, "text"), rapid.SampledFrom([]units{utf8Units, utf16Units, utf32Units}).Draw(t, "units"))
		for range 4 {
			position := rapid.Custom(func(t *rapid.T) protocol.Position {
				return protocol.Position{
					Line: rapid.Uint32Range(0, uint32(len(m.starts))).Draw(t, "line"), Character: rapid.Uint32Range(0, 6).Draw(t, "character"),
				}
			})
			r := protocol.Range{Start: position.Draw(t, "start"), End: position.Draw(t, "end")}
			inserted := pieces.Draw(t, "inserted")
			next := m.replaced(r, inserted)
			require.Equal(t, newTextMap(next.text, m.units), next, "%q after %v became %q", m.text, r, inserted)
			m = next
		}
	})
}

// clientUnits says how a client with these units holds a text.
func clientUnits(u units) (encode func(string) []uint32, decode func([]uint32) string) {
	switch u {
	case utf8Units:
		return func(s string) []uint32 {
				var out []uint32
				for _, b := range []byte(s) {
					out = append(out, uint32(b))
				}
				return out
			}, func(in []uint32) string {
				out := make([]byte, len(in))
				for i, b := range in {
					out[i] = byte(b)
				}
				return string(out)
			}
	case utf16Units:
		return func(s string) []uint32 {
				var out []uint32
				for _, c := range utf16.Encode([]rune(s)) {
					out = append(out, uint32(c))
				}
				return out
			}, func(in []uint32) string {
				out := make([]uint16, len(in))
				for i, c := range in {
					out[i] = uint16(c)
				}
				return string(utf16.Decode(out))
			}
	default:
		return func(s string) []uint32 {
				var out []uint32
				for _, r := range s {
					out = append(out, uint32(r))
				}
				return out
			}, func(in []uint32) string {
				out := make([]rune, len(in))
				for i, r := range in {
					out[i] = rune(r)
				}
				return string(out)
			}
	}
}

// clientPosition counts lines by \n alone; the generated texts hold no lone \r.
func clientPosition(text []uint32, at int) protocol.Position {
	var p protocol.Position
	for _, c := range text[:at] {
		p.Character++
		if c == '\n' {
			p = protocol.Position{Line: p.Line + 1}
		}
	}
	return p
}

// inLine is false between \r and \n, where no position can point.
func inLine(text []uint32, at int) bool {
	return at == 0 || at == len(text) || text[at-1] != '\r' || text[at] != '\n'
}

func boundary(text []uint32, at int) bool {
	return at == len(text) || utf8.RuneStart(byte(text[at]))
}

func FuzzPositions(f *testing.F) {
	for _, seed := range []string{"", "a\r\nb\rc\n", "é😀e\u0301", "\ufeff# x\n", "\xff\xf0\x9f", "0\xa90"} {
		f.Add(seed, uint32(1), uint32(3), 2)
	}
	f.Fuzz(func(t *testing.T, text string, line, character uint32, offset int) {
		for _, u := range []units{utf8Units, utf16Units, utf32Units} {
			m := newTextMap(text, u)
			got := m.offsetOf(protocol.Position{Line: line, Character: character})
			require.True(t, 0 <= got && got <= len(text))
			back := m.positionOf(got)
			require.Equal(t, got, m.offsetOf(back), "%s: an offset that a position gave comes back", u)
			require.LessOrEqual(t, back.Line, line)

			p := m.positionOf(offset)
			require.LessOrEqual(t, m.offsetOf(p), min(max(offset, 0), len(text)))
			require.Equal(t, p, m.positionOf(m.offsetOf(p)), "%s: a position that an offset gave comes back", u)
		}
	})
}

func BenchmarkPositionOf(b *testing.B) {
	text := strings.Repeat("  1/2b    -0.8    .       1.5~\n", 10_000)
	m := newTextMap(text, utf16Units)
	for i := range b.N {
		m.positionOf(i * 37 % len(text))
	}
}

func BenchmarkTextMap(b *testing.B) {
	text := strings.Repeat("  1/2b    -0.8    .       1.5~\n", 10_000)
	b.SetBytes(int64(len(text)))
	for range b.N {
		newTextMap(text, utf16Units)
	}
}
