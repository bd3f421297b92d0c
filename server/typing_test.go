package server

import (
	"flag"
	"fmt"
	"io/fs"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

var (
	editsAsked = flag.Int("edits", 15, "random edits of each sheet, each compared with a fresh server")
	seed       = flag.Uint64("seed", 1, "of the random edits")
	everyByte  = flag.Bool("everybyte", false, "ask after every byte typed, and not only a few hundred times a sheet")
)

// demo copies the demo sheets, so that tests may change them, and gives their addresses and texts.
func demo(t testing.TB) (address func(string) string, sheets map[string]string) {
	t.Helper()
	sheets = map[string]string{}
	root := filepath.Join("..", "testdata", "quay")
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil || filepath.Ext(path) != ".motet" {
			return err
		}
		text, err := os.ReadFile(path)
		name, _ := filepath.Rel(root, path)
		sheets[filepath.ToSlash(name)] = string(text)
		return err
	})
	require.NoError(t, err)
	require.NotEmpty(t, sheets)
	return quay(t, sheets), sheets
}

// Half-typed sheets are what a server sees most. Each sheet of the demo is typed from its first character to its last, a
// few characters a change; after each the server answers about what stands there so far, and is there to the end.
func TestEveryPrefixOfEveryDemoSheet(t *testing.T) {
	address, sheets := demo(t)
	for name, text := range sheets {
		t.Run(name, func(t *testing.T) {
			c := connect(t, pulls, actionLiterals, counts("utf-8"))
			uri := address(name)
			c.open(uri, "")
			line, character := 0, 0
			each := slow * max(1, len(text)/150)
			if *everyByte {
				each = 1
			}
			from := 0
			for i := range text + "\n" {
				if i%each != 0 && i < len(text) {
					continue
				}
				typed := text[from:i]
				c.change(uri, i+2, part(line, character, line, character, typed))
				from = i
				line += strings.Count(typed, "\n")
				character += len(typed)
				if end := strings.LastIndexByte(typed, '\n'); 0 <= end {
					character = len(typed) - end - 1
				}
				ids := []string{
					c.ask("textDocument/hover", at(uri, line, character)),
					c.ask("textDocument/formatting", m{"textDocument": m{"uri": uri}, "options": m{"tabSize": 2, "insertSpaces": true}}),
				}
				if i%(8*each) == 0 { // these judge the whole sheet
					ids = append(ids,
						c.ask("textDocument/diagnostic", m{"textDocument": m{"uri": uri}}),
						c.ask("textDocument/codeAction", m{"textDocument": m{"uri": uri}, "range": span(line, 0, line, character), "context": m{"diagnostics": []m{}}}),
					)
				}
				for _, id := range ids {
					if a := c.await(id); a.fault != nil {
						t.Fatalf("%+v at byte %d\n%s", *a.fault, i, c.log.String())
					}
				}
			}
			require.Equal(t, text, c.state(uri).Text)
			require.NoError(t, c.stop())
			require.Empty(t, c.log.String())
		})
	}
}

// about is all that the server tells about a text, as it stands on the wire; but for its tokens, which are those that a
// client has once it has applied what changed since it asked last.
func (c *testClient) about(uri string, places []place) string {
	c.t.Helper()
	document := m{"textDocument": m{"uri": uri}}
	ids := []string{
		c.ask("motet/test/text", document),
		c.ask("motet/test/tree", document),
		c.ask("textDocument/diagnostic", document),
		c.ask("textDocument/formatting", m{"textDocument": m{"uri": uri}, "options": m{"tabSize": 2, "insertSpaces": true}}),
		c.ask("textDocument/codeAction", m{"textDocument": m{"uri": uri}, "range": span(0, 0, 1<<30, 0), "context": m{"diagnostics": []m{}}}),
	}
	for _, p := range places {
		ids = append(ids, c.ask("textDocument/hover", at(uri, p.Line, p.Character)))
	}
	var out strings.Builder
	fmt.Fprintln(&out, "tokens", c.tokens(uri))
	for _, id := range ids {
		a := c.await(id)
		if a.fault != nil {
			c.t.Fatalf("%s: %+v\n%s", c.methods[id], *a.fault, c.log.String())
		}
		fmt.Fprintf(&out, "%s %s\n", c.methods[id], a.result)
	}
	c.drop(ids)
	return out.String()
}

// tokens are the semantic tokens of a document: asked for whole the first time, and then as what changed.
func (c *testClient) tokens(uri string) []uint32 {
	c.t.Helper()
	have, again := c.painted[uri]
	if again {
		changed := parse[tokenAnswer](c.t, c.call("textDocument/semanticTokens/full/delta", m{"textDocument": m{"uri": uri}, "previousResultId": have.ResultID}))
		have = have.changed(changed)
	} else {
		have = parse[tokenAnswer](c.t, c.call("textDocument/semanticTokens/full", m{"textDocument": m{"uri": uri}}))
	}
	if c.painted == nil {
		c.painted = map[string]tokenAnswer{}
	}
	c.painted[uri] = have
	return have.Data
}

// What a server says after many edits is what a fresh one says about the same text: nothing stale is ever told.
func TestRandomEditsEqualAFreshServer(t *testing.T) {
	for _, u := range []units{utf8Units, utf16Units, utf32Units} {
		t.Run(string(u), func(t *testing.T) {
			address, sheets := demo(t)
			random := rand.New(rand.NewPCG(*seed, 7))
			asked := *editsAsked / slow
			if testing.Short() && u != utf16Units {
				t.Skip("other units run nothing else at a time")
			}
			if u != utf16Units { // most clients count so, and most of what is compared does not depend on it
				asked /= 3
			}
			for _, name := range slices.Sorted(maps.Keys(sheets)) { // the same edits for the same seed
				text := sheets[name]
				t.Run(name, func(t *testing.T) {
					edited := dial(t)
					edited.initialize(pulls, actionLiterals, counts(string(u)))
					uri := address(name)
					typist := newTypist(random, u, text)
					edited.open(uri, text)
					edits := 0
					t.Cleanup(func() {
						if t.Failed() {
							t.Logf("after edit %d of seed %d:\n%s", edits, *seed, typist.text())
						}
					})
					for i := range max(5, asked) {
						edits = i + 1
						if typist.strayed() || random.IntN(50) == 0 {
							edited.change(uri, i+2, typist.paste(text))
						} else {
							edited.change(uri, i+2, typist.edit())
						}
						if random.IntN(3) == 0 && i%8 != 0 {
							continue // several edits on end, with nothing asked between
						}
						places := typist.places(3)
						got := edited.about(uri, places)
						want := fresh(t, u, uri, typist.text(), i+2, places)
						require.Contains(t, got, "motet/test/tree true", "after edit %d of seed %d:\n%s", i+1, *seed, typist.text())
						require.Equal(t, want, got, "after edit %d of seed %d:\n%s", i+1, *seed, typist.text())
					}
				})
			}
		})
	}
}

// fresh is what a server that is given a text says about it.
func fresh(t *testing.T, u units, uri, text string, version int, places []place, capabilities ...m) (says string) {
	t.Helper()
	t.Run("fresh", func(t *testing.T) {
		c := dial(t)
		c.initialize(append([]m{pulls, actionLiterals, counts(string(u))}, capabilities...)...)
		c.notify("textDocument/didOpen", m{"textDocument": m{"uri": uri, "languageId": "motet", "version": version, "text": text}})
		says = c.about(uri, places)
		require.NoError(t, c.stop())
	})
	return says
}

// typist makes random edits of a text, and keeps it as a client with these units does.
type typist struct {
	random *rand.Rand
	units  units
	theirs []uint32
	whole  int // how long the text is that it began with
	encode func(string) []uint32
	decode func([]uint32) string
}

func newTypist(random *rand.Rand, u units, text string) *typist {
	encode, decode := clientUnits(u)
	theirs := encode(text)
	return &typist{random, u, theirs, len(theirs), encode, decode}
}

func (t *typist) text() string { return t.decode(t.theirs) }

// typed are what a random edit inserts: slips of the hand, pasted rows and blocks, and characters of every width.
var typed = []string{
	"", "", "", "x", "7", ".", "-", " ", "  ", "\t", "\n", "\r\n", "#", "\"", "^", "=", "b", "/", "😀", "é", "e\u0301", "\u00a0", "−",
	"\n  9/2b    1.5^    .", "\ntrack head\n  at      nod\n  1b      3\n", "pose ", "# allow off-beat: because\n", "2b+3f", "0b..4b", "\x00",
}

// edit changes the text at a random place and gives the change as the client sends it.
func (t *typist) edit() m {
	start, end := t.cut(), 0
	for {
		end = min(len(t.theirs), start+t.random.IntN(1<<t.random.IntN(7)))
		if t.good(end) {
			break
		}
	}
	inserted := typed[t.random.IntN(len(typed))]
	from, to := clientPosition(t.theirs, start), clientPosition(t.theirs, end)
	change := part(int(from.Line), int(from.Character), int(to.Line), int(to.Character), inserted)
	after := append(append(append([]uint32{}, t.theirs[:start]...), t.encode(inserted)...), t.theirs[end:]...)
	t.theirs = t.encode(t.decode(after))
	return change
}

// strayed tells whether what stands there is no longer much like a sheet: edits take away more than they add, and what is
// left after a thousand of them finds few faults.
func (t *typist) strayed() bool {
	return len(t.theirs) < t.whole/2 || 2*t.whole < len(t.theirs)
}

// paste puts a text in the place of all that there is, as one change.
func (t *typist) paste(text string) m {
	to := clientPosition(t.theirs, len(t.theirs))
	t.theirs = t.encode(text)
	return part(0, 0, int(to.Line), int(to.Character), text)
}

func (t *typist) cut() int {
	for {
		if at := t.random.IntN(len(t.theirs) + 1); t.good(at) {
			return at
		}
	}
}

func (t *typist) good(at int) bool {
	return inLine(t.theirs, at) && (t.units != utf8Units || boundary(t.theirs, at))
}

// places are random places of the text.
func (t *typist) places(n int) []place {
	out := make([]place, n)
	for i := range out {
		p := clientPosition(t.theirs, t.cut())
		out[i] = place{int(p.Line), int(p.Character)}
	}
	return out
}
