package exchange

import (
	"fmt"
	"slices"
	"strings"
	"unicode"
)

// A side is left, right, or neither.
type side int

const (
	middle side = iota
	left
	right
)

func (s side) opposite() side {
	switch s {
	case left:
		return right
	case right:
		return left
	}
	return middle
}

func (s side) suffix() string {
	return [...]string{"", ".left", ".right"}[s]
}

// A spelling is a node's name taken apart: its words in small letters without namespace,
// common prefix and side.
type spelling struct {
	words []string
	side  side
}

func (s spelling) base() string { return strings.Join(s.words, "-") }

// spell takes the names of all joints apart together, since a prefix that most of them
// share (a character's or a rig's name) says nothing about one.
func spell(names []string) []spelling {
	tokens := make([][]string, len(names))
	for i, name := range names {
		tokens[i] = tokensOf(name)
	}
	for range 2 {
		dropCommonFirst(tokens)
	}
	out := make([]spelling, len(names))
	for i, words := range tokens {
		out[i] = sideOf(words)
	}
	return out
}

// tokensOf splits a name at separators, where a capital follows a small letter, and
// before the last of several capitals: "mixer:b_LeftUpLeg.001" is b Left Up Leg 001.
func tokensOf(name string) []string {
	if at := strings.LastIndexAny(name, ":|"); at >= 0 && at+1 < len(name) {
		name = name[at+1:]
	}
	var out []string
	var word []rune
	flush := func() {
		if len(word) > 0 {
			out = append(out, string(word))
			word = nil
		}
	}
	runes := []rune(name)
	for i, r := range runes {
		if !unicode.IsLetter(r) && !unicode.IsDigit(r) && !unicode.IsMark(r) {
			flush()
			continue
		}
		if i > 0 && unicode.IsUpper(r) && (!unicode.IsUpper(runes[i-1]) || i+1 < len(runes) && unicode.IsLower(runes[i+1])) {
			flush()
		}
		word = append(word, r)
	}
	flush()
	return out
}

// dropCommonFirst removes a first token that more than half of at least four names share,
// and that is no side and not all of a name.
func dropCommonFirst(tokens [][]string) {
	shared := map[string]int{}
	for _, words := range tokens {
		if len(words) > 1 {
			shared[words[0]]++
		}
	}
	for first, n := range shared {
		if s, _ := sideWord(first); n < 4 || n*2 <= len(tokens) || s != middle {
			continue
		}
		for i, words := range tokens {
			if len(words) > 1 && words[0] == first {
				tokens[i] = words[1:]
			}
		}
	}
}

// sideOf finds the token that says left or right; a single letter counts too. What is
// written together in small letters ("lefthand") is split.
func sideOf(words []string) spelling {
	out := spelling{}
	found := -1
	for i, word := range words {
		if s, whole := sideWord(word); s != middle && (found < 0 || whole) {
			found, out.side = i, s
		}
	}
	for i, word := range words {
		small := strings.ToLower(word)
		if i != found {
			out.words = append(out.words, small)
		}
	}
	if found >= 0 && len(out.words) > 0 {
		return out
	}
	out = spelling{}
	for _, word := range words {
		small := strings.ToLower(word)
		for _, s := range []side{left, right} {
			name := s.suffix()[1:]
			if rest, cut := strings.CutPrefix(small, name); cut && len(rest) > 2 && out.side == middle {
				small, out.side = rest, s
			} else if rest, cut := strings.CutSuffix(small, name); cut && len(rest) > 2 && out.side == middle {
				small, out.side = rest, s
			}
		}
		out.words = append(out.words, small)
	}
	return out
}

// sideWord reads one token; whole says that it is the whole word and not its letter.
func sideWord(word string) (s side, whole bool) {
	switch strings.ToLower(word) {
	case "left", "lft":
		return left, true
	case "right", "rgt":
		return right, true
	case "l":
		return left, false
	case "r":
		return right, false
	}
	return middle, false
}

// plainWord makes text a word of the language: a letter first, then letters, digits and
// single hyphens. What has nothing of that becomes instead.
func plainWord(text, instead string) string {
	var out []rune
	for _, r := range strings.ToLower(text) {
		letter := unicode.IsLetter(r) || unicode.IsDigit(r) || unicode.IsMark(r)
		switch {
		case letter:
			out = append(out, r)
		case len(out) > 0 && out[len(out)-1] != '-':
			out = append(out, '-')
		}
	}
	word := strings.Trim(string(out), "-")
	switch {
	case word == "":
		return instead
	case !unicode.IsLetter([]rune(word)[0]):
		return instead + "-" + word
	}
	// Words that mean something of their own at the place where a control stands.
	if slices.Contains([]string{"in", "at", "after", "every", "ease", "from", "mirrors", "on"}, word) {
		return word + "-joint"
	}
	return word
}

// unique gives name, or name with the first free number from 2 on before its side.
func unique(base, suffix string, taken map[string]bool) string {
	name := base + suffix
	for n := 2; taken[name]; n++ {
		name = numbered(base, n) + suffix
	}
	taken[name] = true
	return name
}

func numbered(base string, n int) string { return fmt.Sprintf("%s-%d", base, n) }

// clipWord is the word for a clip. Exporters write "object|action|layer" for what the
// animator called action.
func clipWord(name, instead string) string {
	parts := strings.Split(name, "|")
	if len(parts) > 1 {
		name = parts[1]
	}
	return plainWord(strings.Join(tokensOf(name), "-"), instead)
}

// A part is what of a body a joint is, in the words of the rig table.
type part string

// partOf guesses the part from the words of a name, or "" where they say nothing. The
// first list that has one of the words decides, so that a "toe" of a "left foot" is a foot and
// a "thumb" of a "hand" a finger.
func partOf(words []string) part {
	lists := []struct {
		part  part
		words []string
	}{
		{"lid", []string{"lid", "eyelid", "blink"}},
		{"eye", []string{"eye", "eyeball"}},
		{"face", []string{"jaw", "brow", "eyebrow", "lip", "mouth", "cheek", "nose", "tongue", "chin", "teeth", "face"}},
		{"finger", []string{"thumb", "index", "middle", "ring", "pinky", "little", "finger", "digit"}},
		{"foot", []string{"foot", "toe", "ankle", "heel", "ball"}},
		{"hand", []string{"hand", "wrist", "palm"}},
		{"leg", []string{"leg", "thigh", "shin", "calf", "knee", "upleg", "upperleg", "lowerleg"}},
		{"arm", []string{"arm", "forearm", "elbow", "shoulder", "clavicle", "collar", "upperarm", "lowerarm"}},
		{"head", []string{"head", "skull"}},
		{"spine", []string{"spine", "chest", "neck", "torso", "back", "abdomen", "waist", "rib", "belly"}},
		{"root", []string{"hips", "hip", "pelvis", "root", "cog"}},
	}
	for _, list := range lists {
		for _, word := range words {
			bare := strings.TrimRightFunc(word, unicode.IsDigit)
			if slices.Contains(list.words, bare) || len(bare) > 5 && slices.ContainsFunc(list.words, func(w string) bool {
				return len(w) > 3 && strings.HasPrefix(bare, w) || strings.HasSuffix(bare, w)
			}) {
				return list.part
			}
		}
	}
	return ""
}
