package grammar

import (
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"
)

// quote puts text in the quotes that messages use.
func quote(text string) string { return "`" + text + "`" }

// quoteShort quotes no more than the first two dozen characters, since a message is read in one line. How wide the gaps
// between columns are says nothing there.
func quoteShort(text string) string {
	const most = 24
	text = strings.Join(strings.Fields(text), " ")
	if utf8.RuneCountInString(text) <= most {
		return quote(text)
	}
	return quote(string([]rune(text)[:most]) + "…")
}

func runeName(r rune) string { return fmt.Sprintf("U+%04X", r) }

// Nearest gives the one of names that text was probably meant to be: at most two slips of the hand away (a letter
// left out, put in, changed, or two swapped), and at most a third of the word. It is empty where none is that near.
func Nearest(text string, names []string) string {
	best, bestAt := "", min(2, (utf8.RuneCountInString(text)+2)/3)+1
	for _, name := range names {
		if d := slips(strings.ToLower(text), strings.ToLower(name)); d < bestAt {
			best, bestAt = name, d
		}
	}
	return best
}

// suggest gives the one of names that text was probably meant to be: one that other people call so, one that text is
// the beginning of, or the nearest.
func suggest(text string, names []string) string {
	lower := strings.ToLower(text)
	if ours := alsoCalled[lower]; slices.Contains(names, ours) {
		return ours
	}
	var begun []string
	for _, name := range names {
		if len(lower) >= 3 && name != lower && strings.HasPrefix(name, lower) {
			begun = append(begun, name)
		}
	}
	if len(begun) == 1 {
		return begun[0]
	}
	return Nearest(text, names)
}

// alsoCalled are words of the trade for what a sheet calls otherwise.
var alsoCalled = map[string]string{
	"animation": "sheet", "clip": "sheet", "motion": "sheet", "skeleton": "rig", "bones": "joints", "controls": "channels", "ik": "chains",
	"keys": "track", "keyframes": "track", "curve": "track", "posing": "blocking", "poses": "pose", "easings": "eases", "noise": "quiver", "variant": "change",
	"fps": "rate", "framerate": "rate", "bpm": "tempo", "length": "cycle", "duration": "cycle", "loop": "cycle", "camera": "view",
	"parent": "on", "time": "at", "frame": "at", "beat": "at", "hold": "until", "easing": "ease", "bone": "joint", "name": "joint", "limits": "range", "axis": "drives",
	"degrees": "deg", "degree": "deg", "°": "deg", "percent": "%", "centimetres": "cm", "todo": "open", "info": "note", "fixed": "done", "delay": "lag", "weight": "strength",
}

// slips is the Damerau-Levenshtein distance in its "optimal string alignment" form.
func slips(a, b string) int {
	s, t := []rune(a), []rune(b)
	before, last, now := make([]int, len(t)+1), make([]int, len(t)+1), make([]int, len(t)+1)
	for j := range last {
		last[j] = j
	}
	for i := 1; i <= len(s); i++ {
		now[0] = i
		for j := 1; j <= len(t); j++ {
			change := 1
			if s[i-1] == t[j-1] {
				change = 0
			}
			now[j] = min(last[j]+1, now[j-1]+1, last[j-1]+change)
			if i > 1 && j > 1 && s[i-1] == t[j-2] && s[i-2] == t[j-1] {
				now[j] = min(now[j], before[j-2]+1)
			}
		}
		before, last, now = last, now, before
	}
	return last[len(t)]
}
