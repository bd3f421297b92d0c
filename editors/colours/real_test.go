package colours

import (
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion/reference"
)

// place is an atom of a sheet, and the scope that the parser's tree gives it.
type place struct {
	line, byte  int // from 1
	text, scope string
	of          string // the whole line
}

// placesOf are the atoms of all good lines of a text.
func placesOf(name, text string) []place {
	var out []place
	number := 0
	for _, b := range grammar.Parse(name, text).Blocks {
		for k := range b.Lines {
			number++
			line := &b.Lines[k]
			if grammar.InfoOf(b.Kind) == nil || line.Kind == grammar.BadLine || line.Kind == grammar.MutedLine || line.Fault != nil {
				continue
			}
			wants := wanted(b, line)
			for _, token := range grammar.Tokens(line.Text) {
				if token.Class == grammar.Space {
					continue
				}
				out = append(out, place{number, token.Span.Start + 1, line.Text[token.Span.Start:token.Span.End], wants[0].scope, line.Text})
				wants = wants[1:]
			}
		}
	}
	return out
}

// ask has an editor colour files by a script of this folder, and returns the name of each place's colour.
func ask(t *testing.T, files [][]place, names []string, run *exec.Cmd) [][]string {
	t.Helper()
	type request struct {
		File   string   `json:"file"`
		Places [][2]int `json:"places"`
	}
	requests := make([]request, len(files))
	for i, places := range files {
		requests[i] = request{File: names[i], Places: make([][2]int, len(places))}
		for k, p := range places {
			requests[i].Places[k] = [2]int{p.line, p.byte}
		}
	}
	folder := t.TempDir()
	question, err := json.Marshal(requests)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(folder, "ask.json"), question, 0o600))
	run.Env = append(os.Environ(), "HOME="+folder, "LC_ALL=C.UTF-8", "MOTET_ASK="+filepath.Join(folder, "ask.json"), "MOTET_ANSWER="+filepath.Join(folder, "answer.json"))
	out, err := run.CombinedOutput()
	text, readErr := os.ReadFile(filepath.Join(folder, "answer.json"))
	require.NoError(t, readErr, "%s %v", out, err)
	var answers [][]string
	require.NoError(t, json.Unmarshal(text, &answers))
	return answers
}

// compareReal holds an editor's colours to the parser's tree; colour gives the editor's name for a role.
func compareReal(t *testing.T, colour func(role) string, program string, args ...string) {
	t.Helper()
	path := reference.Program(t, program)
	folder := t.TempDir()
	var files [][]place
	var names []string
	for name, text := range texts(t) {
		if strings.Contains(text, "\r") || strings.HasPrefix(text, "\ufeff") || (strings.HasPrefix(name, "..") && !strings.Contains(name, "quay")) {
			continue // Editors take such marks out of the text before they colour it; and the quay and drawn sheets are enough.
		}
		file := filepath.Join(folder, fmt.Sprint(len(names), ".motet"))
		require.NoError(t, os.WriteFile(file, []byte(text), 0o600))
		files, names = append(files, placesOf(name, text)), append(names, file)
	}
	answers := ask(t, files, names, exec.Command(path, args...))
	byScope := map[string]role{}
	for _, r := range []role{blockRole, entryRole, clauseRole, choiceRole, columnRole, titleRole, nameRole, pathRole, patternRole, timeRole, textRole, emptyRole, wrongRole, commentRole, numberRole} {
		byScope[r.scope()] = r
	}
	compared := 0
	for i, places := range files {
		for k, p := range places {
			assert.Equal(t, colour(byScope[p.scope]), answers[i][k], "%s: %q (%s) in the line %q", names[i], p.text, p.scope, p.of)
			compared++
		}
	}
	assert.Greater(t, compared, 3000)
}

func TestVimColoursWhatTheParserSees(t *testing.T) {
	groups := func(r role) string {
		if r == nameRole {
			return "motetName" // the one group without a colour of its own
		}
		return r.vim
	}
	compareReal(t, groups, "vim", "-Nu", "NONE", "-n", "-es", "--cmd", "set runtimepath^=../vim", "-S", "check.vim")
}

func TestEmacsColoursWhatTheParserSees(t *testing.T) {
	compareReal(t, func(r role) string { return r.emacs }, "emacs", "--batch", "-Q", "-L", "../emacs", "-l", "motet", "-l", "check.el")
}

// TestTreeSitterParsesEverySheet holds the parser that is committed to every sheet of testdata, broken ones too: none may
// have an error node, and the node of each good atom is what the parser of Motet itself says.
func TestTreeSitterParsesEverySheet(t *testing.T) {
	nvim, cc := reference.Program(t, "nvim"), reference.Program(t, "cc")
	folder := t.TempDir()
	parser := filepath.Join(folder, "motet.so")
	out, err := exec.Command(cc, "-shared", "-fPIC", "-O1", "-I../tree-sitter-motet/src", "-o", parser, "../tree-sitter-motet/src/parser.c").CombinedOutput()
	require.NoError(t, err, string(out))
	var files [][]place
	var names, from []string
	for name, text := range texts(t) {
		file := filepath.Join(folder, fmt.Sprint(len(names), ".motet"))
		require.NoError(t, os.WriteFile(file, []byte(text), 0o600))
		places := placesOf(name, text)
		if strings.HasPrefix(text, "\ufeff") {
			places = nil // The mark moves the bytes of its line.
		}
		files, names, from = append(files, places), append(names, file), append(from, name)
	}
	t.Setenv("MOTET_PARSER", parser)
	answers := ask(t, files, names, exec.Command(nvim, "--headless", "--clean", "-n", "-u", "NONE", "-S", "check.lua"))
	byScope := map[string]role{}
	for _, r := range []role{blockRole, entryRole, clauseRole, choiceRole, columnRole, titleRole, nameRole, pathRole, patternRole, timeRole, textRole, emptyRole, wrongRole, commentRole, numberRole} {
		byScope[r.scope()] = r
	}
	for i, places := range files {
		assert.Equal(t, "good", answers[i][0], "the tree of %s has an error", from[i])
		for k, p := range places {
			want := byScope[p.scope].name
			if strings.ContainsAny(p.text, "~^>=@") && want == numberRole.name {
				want = markedRole.name
			}
			assert.Equal(t, want, answers[i][k+1], "%s: %q in the line %q", from[i], p.text, p.of)
		}
	}
}

// TestParserHasEveryWord holds the committed parser to the words, so that it is made anew when the language grows.
func TestParserHasEveryWord(t *testing.T) {
	grammar, err := os.ReadFile("../tree-sitter-motet/src/grammar.json")
	require.NoError(t, err)
	for _, word := range everyWord() {
		assert.True(t, strings.Contains(string(grammar), `"value": "`+word+`"`), "%s: run tree-sitter generate in editors/tree-sitter-motet", word)
	}
}
