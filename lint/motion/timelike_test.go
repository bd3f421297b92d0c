package motion

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"github.com/motet-sheet/motet/grammar"
)

// TestTimesThatAreOfferedCanBeCounted has whole frames at shares of a beat that nobody counts.
func TestTimesThatAreOfferedCanBeCounted(t *testing.T) {
	for _, c := range []struct {
		beat, grid, written string
		frames              int64
		want                string
	}{
		{"15", "15/2", "9/2b", 68, "4b+8f"},
		{"15", "15/2", "9/2b", 60, "4b"},
		{"15", "15/2", "0b", 8, "8f"},
		{"15", "15/2", "1/2b", 65, "13/3b"},
		{"20", "10", "1b", 27, "1b+7f"},
		{"20", "10", "1b", 24, "1b+4f"},
		{"20", "4", "1b", 24, "6/5b"},    // the grid counts fifths
		{"20", "10", "7/5b", 24, "6/5b"}, // and so does who wrote this
		{"20", "10", "1.4b", 24, "6/5b"}, // however it was written
		{"20", "10", "4.51b", 24, "1b+4f"},
		{"48", "0", "1b", 69, "23/16b"},
		{"48", "0", "1b", 65, "1b+17f"},
		{"35/2", "0", "1b", 68, "68f"}, // a beat of 17.5 frames: three beats and 15.5 frames would be no better
		{"35/2", "0", "1b", 70, "4b"},
		{"15", "0", "66f", 68, "68f"},
		{"15", "0", "1s", 68, "17/6s"},
	} {
		rat := func(text string) grammar.Rat {
			r, ok := grammar.ParseRat(text)
			assert.True(t, ok, text)
			return r
		}
		s := &Sheet{Rate: grammar.Whole(24), Beat: rat(c.beat), Grid: rat(c.grid)}
		got := s.TimeLike(c.written, grammar.Whole(c.frames))
		assert.Equal(t, c.want, got, "%+v", c)
		read, ok := grammar.ParseTime(got)
		assert.True(t, ok && read.In(s.Rate, s.Beat).Cmp(grammar.Whole(c.frames)) == 0, "%s is frame %d", got, c.frames)
	}
}
