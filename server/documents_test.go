package server

import (
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/server/watch"
	"go.lsp.dev/uri"
	"pgregory.net/rapid"
)

func TestChangesOfADocument(t *testing.T) {
	for _, row := range []struct {
		name, text string
		changes    []m
		want       string
	}{
		{"none", "a\n", nil, "a\n"},
		{"several, each on the text after the one before", "abc", []m{part(0, 0, 0, 1, ""), part(0, 0, 0, 1, "X"), part(0, 2, 0, 2, "\nY")}, "Xc\nY"},
		{"the whole text", "abc", []m{whole("😀\r\n")}, "😀\r\n"},
		{"the whole text and then a part", "abc", []m{whole("de"), part(0, 1, 0, 1, "-")}, "d-e"},
		{"with the length that older clients add", "a😀b", []m{{"range": span(0, 1, 0, 3), "rangeLength": 2, "text": ""}}, "ab"},
		{"out of range", "ab", []m{part(5, 0, 9, 9, "c")}, "abc"},
	} {
		t.Run(row.name, func(t *testing.T) {
			c := connect(t)
			c.open(sheetURI, row.text)
			c.change(sheetURI, 2, row.changes...)
			got := c.state(sheetURI)
			require.Equal(t, row.want, got.Text)
			require.Equal(t, 2, got.Version)
		})
	}
}

// Half a surrogate pair, and bytes that are no UTF-8, are one replacement character, and positions behind it still fit.
func TestTextThatIsNoUnicode(t *testing.T) {
	for _, text := range []string{`\ud83d`, "\xff"} {
		t.Run(text, func(t *testing.T) {
			c := connect(t)
			c.send([]byte(`{"jsonrpc":"2.0","method":"textDocument/didOpen","params":{"textDocument":{"uri":"` + sheetURI + `","languageId":"motet","version":1,"text":"a` + text + `b"}}}`))
			c.change(sheetURI, 2, part(0, 2, 0, 2, "x"))
			require.Equal(t, "a\ufffdxb", c.state(sheetURI).Text)
			c.send([]byte(`{"jsonrpc":"2.0","method":"textDocument/didChange","params":{"textDocument":{"uri":"` + sheetURI + `","version":3},"contentChanges":[{"range":{"start":{"line":0,"character":0},"end":{"line":0,"character":0}},"text":"` + text + `"}]}}`))
			require.Equal(t, "\ufffda\ufffdxb", c.state(sheetURI).Text)
		})
	}
}

// A hover must not overtake the change that was sent before it.
func TestARequestSeesTheChangesSentBeforeItAndNoneAfter(t *testing.T) {
	c := connect(t)
	c.open(sheetURI, "")
	asked := map[int]string{}
	for i := 1; i <= 300; i++ {
		c.change(sheetURI, i+1, part(0, i-1, 0, i-1, "x"))
		asked[i] = c.ask("motet/test/text", m{"textDocument": m{"uri": sheetURI}})
	}
	for i, id := range asked {
		got := parse[state](t, c.await(id).result)
		require.Equal(t, strings.Repeat("x", i), got.Text)
		require.Equal(t, i+1, got.Version)
	}
}

func TestVersionsThatDoNotRise(t *testing.T) {
	c := connect(t)
	c.open(sheetURI, "a")
	c.change(sheetURI, 1, part(0, 1, 0, 1, "b"))
	require.Equal(t, "ab", c.state(sheetURI).Text, "the order of messages counts")
	require.Contains(t, c.log.String(), "version 1 came after version 1")
}

// The ways in which clients spell one address, from microsoft/language-server-protocol#1786 and RFC 3986.
func TestOneDocumentHasManySpellings(t *testing.T) {
	for _, spellings := range [][]string{
		{"file:///c%3A/quay/keeper.motet", "file:///c:/quay/keeper.motet", "file:///C:/quay/keeper.motet", "file:///C%3a/quay/keeper.motet"},
		{"file:///quay/n%C3%A9%20mender.motet", "file:///quay/né mender.motet", "file:///quay/n%c3%a9%20mender.motet"},
		{"file:///quay/%5Bold%5D.motet", "file:///quay/[old].motet"},
		{"untitled:Untitled-1", "untitled:Untitled-1"},
	} {
		for _, opened := range spellings {
			t.Run(opened, func(t *testing.T) {
				c := connect(t)
				c.open(opened, "a")
				for i, other := range spellings {
					c.change(other, i+2, part(0, 0, 0, 0, "x"))
				}
				got := c.state(spellings[0])
				require.Equal(t, strings.Repeat("x", len(spellings))+"a", got.Text)
				require.Equal(t, opened, got.URI, "the client's own spelling is kept")
				c.close(spellings[len(spellings)-1])
				require.Equal(t, invalidParams, c.refused("motet/test/text", m{"textDocument": m{"uri": opened}}))
				require.NoError(t, c.stop())
				require.Empty(t, c.log.String())
			})
		}
	}
}

func TestDocumentsThatAreNoFilesHaveNoPath(t *testing.T) {
	c := connect(t)
	c.open("untitled:Untitled-1", "a")
	c.open(sheetURI, "b")
	require.Empty(t, c.state("untitled:Untitled-1").Path)
	require.Equal(t, "/quay/keeper.motet", c.state(sheetURI).Path)
}

func TestOpeningAgainTakesTheNewText(t *testing.T) {
	c := connect(t)
	c.open(sheetURI, "a")
	c.open(sheetURI, "b")
	require.Equal(t, "b", c.state(sheetURI).Text)
	c.close(sheetURI)
	c.open(sheetURI, "c")
	require.Equal(t, "c", c.state(sheetURI).Text)
}

// A version of a text that no request is about any more must go, though sheets that were read beside it stay as they
// are and are not read again.
func TestOldTextsAreForgotten(t *testing.T) {
	address := quay(t, map[string]string{"deckhand.motet": deckhandRig})
	sheet, other, third := address("wait.motet"), address("other.motet"), address("third.motet")
	c := connect(t)
	c.open(sheet, deckhandSheet)
	c.open(other, strings.ReplaceAll(deckhandSheet, "deckhand-wait", "other"))
	c.open(third, manyWays)
	for i := range 60 {
		edited := []string{sheet, other, third}[i%2]
		c.change(edited, i+2, part(0, 0, 0, 0, "#"))
		c.notify("motet/test/keep", nil)
		c.diagnosticsOf(edited, i+2)
		c.call("textDocument/hover", at(third, 6, 8))
	}
	waitFor(t, func() bool { return c.kept.count() <= 3*3 }) // each sheet's reading may hold the others as they were
}

func TestTheSheetsOfAFolder(t *testing.T) {
	address := quay(t, map[string]string{"town/a.motet": "", "town/b.motet": "", "town/notes.txt": "", "town/inn/c.motet": ""})
	folder := uri.MustParse(address("")).FsPath()
	documents := map[uri.URI]*document{}
	for _, name := range []string{"town/a.motet", "town/new.motet", "town/inn/new.motet", "town/new.txt"} {
		key := uri.URI(address(name))
		documents[key] = &document{key: key, path: pathOf(key)}
	}
	look := newLookout(&document{root: filepath.Clean(folder)}, &world{documents: documents, disk: &watch.Disk{}})
	require.Equal(t, []string{"town/a.motet", "town/b.motet", "town/new.motet"}, look.list("town"))
	require.Empty(t, look.list("gone"))
	require.Empty(t, look.list(".."))
	require.True(t, look.saw(filepath.Join(folder, "town")), "so that a new file there counts")
	require.True(t, look.saw(filepath.Join(folder, "gone")))
}

func waitFor(t *testing.T, done func() bool) {
	t.Helper()
	for begun := time.Now(); !done(); time.Sleep(time.Millisecond) {
		if patience < time.Since(begun) {
			t.Fatal("it did not come to that")
		}
	}
}

func TestChangesOfWhatIsNotOpenAreLogged(t *testing.T) {
	c := connect(t)
	c.change(sheetURI, 2, whole("a"))
	c.close(sheetURI)
	require.NoError(t, c.stop())
	require.Equal(t, 2, strings.Count(c.log.String(), "is not open"))
}

// Whatever is typed, the text that the server has after many small changes is the one that it would have been given.
func TestManyChangesOverTheWire(t *testing.T) {
	words := rapid.SampledFrom([]string{"a", "é", "😀", "\n", "\r\n", "track hips\n", "  0b  1.5~\n", " ", "漢"})
	for _, u := range []units{utf8Units, utf16Units, utf32Units} {
		t.Run(string(u), func(t *testing.T) {
			c := connect(t, counts(string(u)))
			encode, decode := clientUnits(u)
			document := 0
			rapid.Check(t, func(t *rapid.T) {
				document++
				address := fmt.Sprintf("file:///quay/%d.motet", document)
				theirs := encode(strings.Join(rapid.SliceOfN(words, 0, 30).Draw(t, "text"), ""))
				c.open(address, decode(theirs))
				version := 1
				for range rapid.IntRange(1, 6).Draw(t, "notifications") {
					var changes []m
					for range rapid.IntRange(1, 3).Draw(t, "changes") {
						start := rapid.IntRange(0, len(theirs)).Draw(t, "start")
						end := min(len(theirs), start+rapid.IntRange(0, 12).Draw(t, "length"))
						if u == utf8Units && !(boundary(theirs, start) && boundary(theirs, end)) || !inLine(theirs, start) || !inLine(theirs, end) {
							continue
						}
						inserted := strings.Join(rapid.SliceOfN(words, 0, 4).Draw(t, "inserted"), "")
						from, to := clientPosition(theirs, start), clientPosition(theirs, end)
						changes = append(changes, part(int(from.Line), int(from.Character), int(to.Line), int(to.Character), inserted))
						theirs = append(append(append([]uint32{}, theirs[:start]...), encode(inserted)...), theirs[end:]...)
						theirs = encode(decode(theirs))
					}
					version++
					c.change(address, version, changes...)
				}
				if got := c.state(address).Text; got != decode(theirs) {
					t.Fatalf("client has %q, server has %q", decode(theirs), got)
				}
				c.close(address)
			})
		})
	}
}
