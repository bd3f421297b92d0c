package server

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"github.com/motet-sheet/motet/grammar"
	"github.com/stretchr/testify/require"
	"go.lsp.dev/protocol"
)

type completionItem struct {
	Label, Detail, SortText string
	InsertTextFormat, Kind  int
	Preselect               bool
	Documentation           json.RawMessage
	TextEdit                textEdit
	Data                    json.RawMessage
}

var (
	takesSnippets = m{"textDocument": m{"completion": m{"completionItem": m{"snippetSupport": true, "preselectSupport": true}}}}
	labelOffsets  = m{"textDocument": m{"signatureHelp": m{"signatureInformation": m{"parameterInformation": m{"labelOffsetSupport": true}}}}}
)

// cursor takes the mark ‸ out of a text and gives the line and character where it stood, in UTF-8 units.
func cursor(t testing.TB, marked string) (text string, line, character int) {
	t.Helper()
	before, after, ok := strings.Cut(marked, "‸")
	require.True(t, ok, "the text has no cursor")
	return before + after, strings.Count(before, "\n"), len(before) - (strings.LastIndex(before, "\n") + 1)
}

func (c *testClient) complete(uri string, line, character int) []completionItem {
	c.t.Helper()
	return parse[struct{ Items []completionItem }](c.t, c.call("textDocument/completion", at(uri, line, character))).Items
}

func labels(items []completionItem) string {
	var out []string
	for _, i := range items {
		out = append(out, i.Label)
	}
	return strings.Join(out, " | ")
}

// completionSheet is a start of a sheet on the rig deckhandRig, which has the channels hips/side and head/nod.
const completionSheet = `sheet deckhand-wait
  rig       deckhand in "deckhand.motet"
  rate      24 fps
  tempo     80 bpm
  cycle     4b

pose on-left
  hips/side         3

eases
  heavy     0.3,0,0.1,1

track hips in sway
  at      side
  0b      2^
  2b      -2^

`

func TestCompletionByPlace(t *testing.T) {
	address := quay(t, map[string]string{"deckhand.motet": deckhandRig, "cast/keeper.motet": "sheet keeper-wait\n  cycle     4b\n"})
	uri := address("wait.motet")
	c := connect(t, counts("utf-8"))
	c.open(uri, "")
	for i, row := range []struct{ name, text, want string }{
		{"a control of a track", "track ‸", "hips | head"},
		{"half a control", "track hi‸", "hips | head"},
		{"behind a control", "track head ‸", "every 1b | in"},
		{"a layer that a track made", "track head in ‸", "sway"},
		{"the columns of a track", "track head\n  ‸", "at nod | at"},
		{"a channel of the control", "track head\n  at      ‸", "nod | ease"},
		{"a channel that is not there yet", "track head\n  at      nod     ‸", "ease"},
		{"the first time", "track head\n  at      nod\n  ‸", "0b | 1/2b | 1b | 3/2b | 2b | 5/2b | 3b | 7/2b | 4b"},
		{"the next times", "track head\n  at      nod\n  5/2b    3\n  ‸", "3b | 7/2b | 4b"},
		{"a time between two rows", "track head\n  at      nod\n  1b      3\n  ‸\n  5/2b    3", "3/2b | 2b"},
		{"up to the end of the table's own round", "track head every 2b\n  at      nod\n  1b      3\n  ‸", "3/2b | 2b"},
		{"behind a row off the grid, in frames", "track head\n  at      nod\n  50f     3\n  ‸", "54f | 63f | 72f"},
		{"the mark of a key", "track head\n  at      nod\n  0b      1.5‸", "1.5^ | 1.5> | 1.5= | 1.5~ | 1.5@"},
		{"an easing", "track head\n  at      nod     ease\n  0b      1.5     ‸", "heavy"},
		{"a pose", "blocking\n  at      pose\n  0b      ‸", "on-left"},
		{"the end of a hold", "blocking\n  at      pose            until\n  3b      on-left         ‸", "7/2b | 4b"},
		{"a word of a pose", "pose on-right ‸", "mirrors | from"},
		{"another pose", "pose on-right mirrors ‸", "on-left"},
		{"a channel of a pose", "pose on-right\n  ‸", "hips/side | head/nod"},
		{"controls that play late", "overlap\n  ‸", "hips | head"},
		{"a leader", "follow head after ‸", "hips | head"},
		{"lines of a follow", "follow head after hips\n  ‸", "lag | spring | nod"},
		{"a channel of the leader", "follow head after hips\n  nod       0.5 of ‸", "side"},
		{"a spring", "follow head after hips\n  spring ‸", "1.8 Hz damping 0.45 | arrives 5f overshoot 15%"},
		{"lines of a layer", "layer sway\n  ‸", "adds | replaces | strength"},
		{"a goal", "plant\n  ‸", "hips | head"},
		{"a line of a change", "change\n  without ‸", "track | quiver | breath | follow | layer | plant | notes | blocking | overlap"},
		{"a status", "notes\n  at      status  note\n  1b      ‸", "open | done"},
		{"a level", "house\n  rule    level   limit\n  off-beat ‸", "error | warning | note | off"},
		{"a rule's own limit", "house\n  rule    level   limit\n  seam-gap error ‸", "0.01cm,0.05deg,0.05%"},
		{"nothing behind the last column", "track head\n  at      nod\n  0b      1       ‸", ""},
		{"nothing in a comment", "track head # the ‸", ""},
		{"an allowance", "track head # al‸", "allow"},
		{"an unknown block", "trakc hips\n  ‸", ""},
	} {
		t.Run(row.name, func(t *testing.T) {
			text, line, character := cursor(t, completionSheet+row.text)
			c.change(uri, i+2, whole(text))
			c.t = t
			got := labels(c.complete(uri, line, character))
			if row.want == "allow" {
				require.Equal(t, "allow", got)
				return
			}
			require.Equal(t, row.want, got)
		})
	}
	c.t = t
}

func TestCompletionOfHeaderLines(t *testing.T) {
	address := quay(t, map[string]string{"deckhand.motet": deckhandRig, "cast/keeper.motet": "sheet keeper-wait\n  cycle     4b\n"})
	uri := address("wait.motet")
	c := connect(t, counts("utf-8"))
	c.open(uri, "")
	for i, row := range []struct{ name, text, want string }{
		{"what is there is left out", "sheet a\n  tempo     80 bpm\n  span      4b\n  ‸\n", "rig | from | rate | leaves | rejoins | phase | advance | grid | view"},
		{"a unit", "sheet a\n  tempo     80 ‸", "bpm"},
		{"an example", "sheet a\n  rate ‸", "24 fps"},
		{"a choice", "sheet a\n  view      ‸", "front | side | three-quarter | round"},
		{"a rig and its file", "sheet a\n  rig       ‸", `deckhand in "deckhand.motet"`},
		{"a base and its file", "sheet a\n  from      ‸", `keeper-wait in "cast/keeper.motet"`},
		{"an idle", "sheet a\n  leaves    ‸", `keeper-wait in "cast/keeper.motet"`},
		{"a file", "sheet a\n  rig       deckhand in \"‸", `"deckhand.motet"`},
		{"an allowed rule", "sheet a # allow off-‸", ""},
	} {
		t.Run(row.name, func(t *testing.T) {
			text, line, character := cursor(t, row.text)
			c.change(uri, i+2, whole(text))
			c.t = t
			items := c.complete(uri, line, character)
			if row.want == "" {
				require.Contains(t, labels(items), "off-beat")
				require.Equal(t, textEdit{stretch{place{line, character - 4}, place{line, character}}, "off-beat: "},
					items[slices.IndexFunc(items, func(i completionItem) bool { return i.Label == "off-beat" })].TextEdit)
				return
			}
			require.Equal(t, row.want, labels(items))
		})
	}
	c.t = t
}

func TestCompletionsAreSnippetsOnlyForClientsThatTakeThem(t *testing.T) {
	find := func(c *testClient, label string) completionItem {
		c.open(sheetURI, "tr")
		items := c.complete(sheetURI, 0, 2)
		i := slices.IndexFunc(items, func(i completionItem) bool { return i.Label == label })
		require.GreaterOrEqual(t, i, 0)
		return items[i]
	}
	with := find(connect(t, takesSnippets), "track")
	require.Equal(t, 2, with.InsertTextFormat)
	require.Equal(t, "track ${1:CONTROL}\n  at      ${2:CHANNEL}\n  $0", with.TextEdit.NewText)
	require.Equal(t, stretch{place{0, 0}, place{0, 2}}, with.TextEdit.Range)
	without := find(connect(t), "track")
	require.Equal(t, 1, without.InsertTextFormat)
	require.Equal(t, "track", without.TextEdit.NewText)
}

func TestResolvingACompletionDocumentsIt(t *testing.T) {
	address := quay(t, map[string]string{"deckhand.motet": deckhandRig})
	uri := address("wait.motet")
	c := connect(t)
	c.open(uri, completionSheet+"pose on-right\n  ")
	line := strings.Count(completionSheet, "\n") + 1
	for _, item := range c.complete(uri, line, 2) {
		got := parse[completionItem](t, c.call("completionItem/resolve", parse[map[string]any](t, encode(m{"label": item.Label, "data": item.Data}))))
		want := map[string]string{"hips/side": "to their left", "head/nod": "down"}[item.Label]
		require.Contains(t, string(got.Documentation), want)
	}
	rule := parse[completionItem](t, c.call("completionItem/resolve", m{"label": "off-beat", "data": m{"uri": uri, "names": "rule", "key": "off-beat"}}))
	require.Contains(t, string(rule.Documentation), "off-beat")
	plain := parse[completionItem](t, c.call("completionItem/resolve", m{"label": "track"}))
	require.Equal(t, "track", plain.Label)
}

// Clients of the first protocol know fewer kinds, and say nothing of it.
func TestKindsThatOldClientsDoNotKnow(t *testing.T) {
	old, modern := shows{}, shows{itemKinds: []protocol.CompletionItemKind{20}, symbolKinds: []protocol.SymbolKind{23}}
	require.Equal(t, protocol.CompletionItemKindValue, old.itemKind(protocol.CompletionItemKindEnumMember))
	require.Equal(t, protocol.CompletionItemKindEnumMember, modern.itemKind(protocol.CompletionItemKindEnumMember))
	require.Equal(t, protocol.CompletionItemKindKeyword, old.itemKind(protocol.CompletionItemKindKeyword))
	require.Equal(t, protocol.SymbolKindClass, old.symbolKind(protocol.SymbolKindStruct))
	require.Equal(t, protocol.SymbolKindStruct, modern.symbolKind(protocol.SymbolKindStruct))
	c := connect(t)
	c.open(sheetURI, "house\n  rule      level\n  ")
	for _, item := range c.complete(sheetURI, 2, 2) {
		require.LessOrEqual(t, item.Kind, 18)
	}
}

// What a family says is told by the sheets that it is about: in which folders they are, and how they are named.
func TestCompletionInAFamily(t *testing.T) {
	address := quay(t, map[string]string{
		"deckhand.motet": deckhandRig, "cast/keeper.motet": "sheet keeper-wait\n  cycle 4b\n", "cast/pilot.motet": "sheet pilot-wait\n  cycle 4b\n",
		"cast/glance.motet": "sheet pilot-slow-glance\n  cycle 4b\n", "cast/broken.motet": "sheet\n",
	})
	uri := address("quay.motet")
	c := connect(t, counts("utf-8"))
	c.open(uri, "")
	const head = "family quay\n  members   \"cast/*.motet\"\n"
	for i, row := range []struct{ name, text, want string }{
		{"lines that are not there yet", head + "  ‸", "each | name | opening | phases | lengths | distinct"},
		{"folders with sheets", "family quay\n  members   ‸", `"*.motet" 1 file | "cast/*.motet" 4 files`},
		{"half a string", "family quay\n  members   \"ca‸", `"*.motet" 1 file | "cast/*.motet" 4 files`},
		{"a pattern for names", head + "  name      ‸", `"{who}-{clip}" fits 3 of 3 members | "{clip}-{who}" fits 3 of 3 members`},
		{"a pattern in its quotes", head + "  name      \"‸\"", `"{who}-{clip}" fits 3 of 3 members | "{clip}-{who}" fits 3 of 3 members`},
		{"clips", head + "  each      ‸", "wait 2 of 3 members | slow-glance 1 of 3 members | glance 1 of 3 members"},
		{"a second clip", head + "  each      wait ‸", "slow-glance 1 of 3 members | glance 1 of 3 members"},
		{"as many clips as there are", head + "  each      wait slow-glance ‸", "glance 1 of 3 members"},
		{"no more clips", head + "  each      wait slow-glance glance ‸", ""},
		{"clips by the pattern that is there", head + "  each      ‸\n  name      \"{clip}-{who}\"\n", "pilot 2 of 3 members | pilot-slow 1 of 3 members | keeper 1 of 3 members"},
		{"a pattern of one's own", head + "  name \"{who}-slow-{clip}\"\n  each      ‸", "glance 1 of 3 members"},
		{"a pattern that says no clip", head + "  name \"{who}\"\n  each      ‸", ""},
		{"words", head + "  phases    ‸", "spread phases spread"},
	} {
		t.Run(row.name, func(t *testing.T) {
			text, line, character := cursor(t, row.text)
			c.change(uri, i+2, whole(text))
			c.t = t
			var got []string
			for _, item := range c.complete(uri, line, character) {
				if item.Detail == "" || row.name == "lines that are not there yet" {
					got = append(got, item.Label)
				} else {
					got = append(got, item.Label+" "+item.Detail)
				}
			}
			require.Equal(t, row.want, strings.Join(got, " | "))
		})
	}
	c.t = t
	text, line, character := cursor(t, "family quay\n  members   \"ca‸\"")
	c.change(uri, 99, whole(text))
	item := c.complete(uri, line, character)[1]
	require.Equal(t, textEdit{stretch{place{1, 12}, place{1, 15}}, `"cast/*.motet`}, item.TextEdit, "the closing quote stands there already")
}

// What the animators of the demo wrote is offered at the place where they wrote it: every word of the language, and every
// name that was there before.
func TestCompletionOffersWhatTheDemoSays(t *testing.T) {
	address, sheets := demo(t)
	c := connect(t, counts("utf-8"), m{"rootUri": address("")})
	asked := 0
	for name, text := range sheets {
		uri := address(name)
		c.open(uri, text)
		tree := grammar.Parse(name, text)
		for _, b := range tree.Blocks {
			own := map[string]bool{} // names that come into being on the line itself
			for _, m := range blockMentions(nil, b) {
				if m.declares || m.kind == layerName || m.kind == sheetName || m.kind == rigName {
					own[m.at.Text()] = true
				}
			}
			for i := range b.Lines {
				l := &b.Lines[i]
				for _, a := range atomsOf(l.Text) {
					atom := l.Text[a.Span.Start:a.Span.End]
					control, _, _ := strings.Cut(atom, "/")
					if a.Class != grammar.Word && a.Class != grammar.Path || own[atom] || own[control] || l.Kind == grammar.CommentLine {
						continue
					}
					if b.Kind == grammar.ChannelsBlock || b.Kind == grammar.ChainsBlock || b.Kind == grammar.JointsBlock {
						continue // a rig's own names stand for joints of the model
					}
					at, ok := tree.Locate(b.Ref(i, a.Span))
					require.True(t, ok)
					line, column := tree.Position(at.Start, grammar.UTF8)
					asked++
					got := c.complete(uri, line, column)
					require.True(t, slices.ContainsFunc(got, func(i completionItem) bool {
						first, _, _ := strings.Cut(i.Label, " ")
						return first == atom || strings.Contains(" "+i.Label+" ", " "+atom+" ")
					}), "%s:%d: %q in %q is not among %s", name, line+1, atom, l.Text, labels(got))
				}
			}
		}
		c.close(uri)
	}
	require.Greater(t, asked, 500)
}

func TestSignatureHelp(t *testing.T) {
	type help struct {
		Signatures []struct {
			Label      string
			Parameters []struct {
				Label         json.RawMessage
				Documentation string
			}
		}
		ActiveParameter int
	}
	address := quay(t, map[string]string{"deckhand.motet": deckhandRig})
	uri := address("wait.motet")
	c := connect(t, labelOffsets)
	text, line, character := cursor(t, completionSheet+"track head\n  at      nod     ease\n  0b      ‸")
	c.open(uri, text)
	got := parse[help](t, c.call("textDocument/signatureHelp", at(uri, line, character)))
	require.Equal(t, "at  nod  ease", got.Signatures[0].Label)
	require.Equal(t, 1, got.ActiveParameter)
	require.JSONEq(t, "[4,7]", string(got.Signatures[0].Parameters[1].Label))
	require.Equal(t, "deg -40..40, plus is “down”", got.Signatures[0].Parameters[1].Documentation)
	require.Equal(t, "null", string(c.call("textDocument/signatureHelp", at(uri, 0, 3))))
	c.change(uri, 2, whole("sheet a\n  tempo 8"))
	require.Equal(t, "tempo 80 bpm", parse[help](t, c.call("textDocument/signatureHelp", at(uri, 1, 9))).Signatures[0].Label)

	plain := connect(t)
	plain.open(uri, text)
	got = parse[help](t, plain.call("textDocument/signatureHelp", at(uri, line, character)))
	require.JSONEq(t, `"nod"`, string(got.Signatures[0].Parameters[1].Label))
}
