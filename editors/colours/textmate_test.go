package colours

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf16"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/grammar/sheets"
	"github.com/motet-sheet/motet/lint/motion/reference"
)

// coloured is a stretch of a line in UTF-16 units and the scope that it must have.
type coloured struct {
	start, end int
	scope      string
}

// wanted says how each atom of a good line is to be coloured. It goes by the tree that the parser made, so that a
// grammar of regular expressions is held to what the line really is.
func wanted(b *grammar.Block, line *grammar.Line) []coloured {
	info := grammar.InfoOf(b.Kind)
	var out []coloured
	atoms := 0
	for _, token := range grammar.Tokens(line.Text) {
		if token.Class == grammar.Space {
			continue
		}
		text := line.Text[token.Span.Start:token.Span.End]
		start := len(utf16.Encode([]rune(line.Text[:token.Span.Start])))
		out = append(out, coloured{start, start + len(utf16.Encode([]rune(text))), scopeOf(info, b, line, atoms, token.Class, text)})
		atoms++
	}
	return out
}

func scopeOf(info *grammar.BlockInfo, b *grammar.Block, line *grammar.Line, at int, class grammar.Class, text string) string {
	switch {
	case class == grammar.Comment:
		return "comment.line.number-sign.motet"
	case class == grammar.String:
		return "string.quoted.double.motet"
	case line.Kind == grammar.OpenerLine && at == 0:
		return "keyword.control.block.motet"
	case line.Kind == grammar.OpenerLine && at == 1 && strings.Contains(info.Opener.Usage, info.Word+" "+strings.ToUpper("name")),
		line.Kind == grammar.OpenerLine && at == 1 && strings.Contains(info.Opener.Usage, info.Word+" CONTROL"):
		return "entity.name.section.motet"
	case line.Kind == grammar.HeaderLine:
		return "entity.other.attribute-name.motet"
	case line.Kind == grammar.RowLine:
		kind := b.Columns[at].Kind
		if _, morph := grammar.MorphOf(text); !morph && (kind == grammar.ChoiceColumn || kind == grammar.DrivesColumn) && class == grammar.Word {
			return "constant.language.motet"
		}
		return scopeOfClass(class)
	}
	if scope := scopeOfWord(info, line, at, text); scope != "" {
		return scope
	}
	return scopeOfClass(class)
}

// scopeOfWord is the scope of a word of the language in an opener or an entry; empty for a name.
func scopeOfWord(info *grammar.BlockInfo, line *grammar.Line, at int, text string) string {
	kind := info.Opener
	if line.Kind == grammar.EntryLine {
		first := strings.FieldsFunc(line.Text, func(r rune) bool { return strings.ContainsRune(" \t#\"", r) })[0]
		for _, k := range info.Lines {
			if kind = k; k.Word == first {
				break
			}
		}
		if at == 0 && kind.Word == text && text != "" {
			return "support.type.property-name.motet"
		}
	}
	// The productions of lines without a first word of their own have one clause each, `of` and `on`, which the usage shows.
	for _, w := range kind.Words() {
		switch {
		case w.Text != text || at == 0:
		case w.Choice:
			return "constant.language.motet"
		default:
			return "keyword.other.clause.motet"
		}
	}
	return ""
}

func scopeOfClass(class grammar.Class) string {
	switch class {
	case grammar.Word:
		return "variable.other.motet"
	case grammar.Path:
		return "variable.other.member.motet"
	case grammar.Pattern:
		return "variable.other.member.pattern.motet"
	case grammar.TimeAtom:
		return "constant.numeric.time.motet"
	case grammar.Dot:
		return "punctuation.definition.empty.motet"
	case grammar.Illegal:
		return "invalid.illegal.motet"
	}
	return "constant.numeric.motet"
}

// rest has the words that no sheet of testdata says.
const rest = `sheet rest
  from      keeper-wait in "keeper.motet"

layer sway
  replaces
  strength  80%

layer fine
  adds

follow head after hips
  spring    1.8 Hz damping 0.45

change
  without   track head in sway
  without   quiver small
  without   breath slow
  without   follow head after hips
  without   layer sway
  without   plant
  without   notes
  without   blocking
  without   overlap

rig rest
  height    100

joints
  joint           on              x       y       z       rx      ry      rz      order
  a               .               0       50      0       1       2       3       xyz
  b               a               0       50      0       1       2       3       xzy
  c               a               0       50      0       1       2       3       yxz
  d               a               0       50      0       1       2       3       yzx
  e               a               0       50      0       1       2       3       zxy
  f               a               0       50      0       1       2       3       zyx

channels
  channel                 joint           drives          gain    unit    range
  a/one                   a               scale.x         1       %       0..2
  a/two                   a               scale.y         1       %       0..2
  a/three                 a               scale.z         1       %       0..2
  a/four                  a               scale.xy        1       %       0..2
  a/five                  a               scale.yz        1       %       0..2
  a/six                   a               scale.xyz       1       %       0..2
`

// texts are every sheet of testdata, some drawn ones, which have every kind of line, and the words that are left.
func texts(t *testing.T) map[string]string {
	out := map[string]string{"rest": rest}
	require.NoError(t, filepath.WalkDir("../../testdata", func(path string, _ os.DirEntry, err error) error {
		if err != nil || filepath.Ext(path) != ".motet" {
			return err
		}
		text, err := os.ReadFile(path)
		out[path] = string(text)
		return err
	}))
	for seed := range 60 {
		out[fmt.Sprint("drawn ", seed)] = rapid.Custom(sheets.Draw).Example(seed)
	}
	return out
}

func TestTextMateColoursWhatTheParserSees(t *testing.T) {
	reference.Path(t, "vscode-textmate", "package.json")
	request := struct {
		Grammar string     `json:"grammar"`
		Texts   [][]string `json:"texts"`
	}{Grammar: textMateJSON(readBlocks())}
	var files []*grammar.File
	for name, text := range texts(t) {
		file := grammar.Parse(name, text)
		var lines []string
		for _, b := range file.Blocks {
			for _, line := range b.Lines {
				lines = append(lines, line.Text)
			}
		}
		files, request.Texts = append(files, file), append(request.Texts, lines)
	}
	var answers [][][][]any
	reference.Ask(t, "textmate.mjs", request, &answers)
	kinds := map[grammar.BlockKind]int{}
	for i, file := range files {
		at := 0
		for _, b := range file.Blocks {
			for k := range b.Lines {
				if line := &b.Lines[k]; grammar.InfoOf(b.Kind) != nil && line.Kind != grammar.BadLine && line.Kind != grammar.MutedLine {
					kinds[b.Kind] += compare(t, file.Path, line, wanted(b, line), answers[i][at])
				}
				at++
			}
		}
	}
	for _, info := range grammar.Blocks() {
		assert.Greater(t, kinds[info.Kind], 20, "so many atoms of %s were compared", info.Word)
	}
}

// compare holds each wanted stretch to the tokens that cover it, and tells how many were wanted. A marked number is two
// tokens, its number and its mark; a comment with an allowance is several.
func compare(t *testing.T, path string, line *grammar.Line, want []coloured, tokens [][]any) int {
	t.Helper()
	length := len(utf16.Encode([]rune(line.Text)))
	for _, w := range want {
		var have string
		end := 0
		for _, token := range tokens {
			if int(token[0].(float64)) == w.start {
				have, end = token[2].(string), min(int(token[1].(float64)), length) // the last one has the line's end too
			}
		}
		text := string(utf16.Decode(utf16.Encode([]rune(line.Text))[w.start:w.end]))
		assert.Equal(t, w.scope, have, "%s: %q in the line %q", path, text, line.Text)
		if !strings.ContainsAny(text, "~^>=@#") {
			assert.Equal(t, w.end, end, "%s: where %q ends in the line %q", path, text, line.Text)
		}
	}
	return len(want)
}
