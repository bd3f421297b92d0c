package server

import (
	"encoding/base64"
	"encoding/xml"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// wishing is a client that asks for pictures; initialize takes it to initializationOptions.
func wishing(options any) m { return m{"initializationOptions": options} }

var imageOf = regexp.MustCompile(`!\[([^\]]*)\]\(data:image/svg\+xml;base64,([A-Za-z0-9+/=]+)\)`)

// shown gives the pictures of a hover, each as its text and its SVG.
func (c *testClient) shown(uri string, line, character int) (hover string, pictures [][2]string) {
	c.t.Helper()
	hover = parse[struct{ Contents struct{ Value string } }](c.t, c.call("textDocument/hover", at(uri, line, character))).Contents.Value
	for _, found := range imageOf.FindAllStringSubmatch(hover, -1) {
		svg, err := base64.StdEncoding.DecodeString(found[2])
		require.NoError(c.t, err)
		require.NoError(c.t, xml.Unmarshal(svg, new(struct {
			XMLName xml.Name `xml:"http://www.w3.org/2000/svg svg"`
		})))
		pictures = append(pictures, [2]string{found[1], string(svg)})
	}
	return hover, pictures
}

func TestHoverPictures(t *testing.T) {
	address, sheets := demo(t)
	uri, text := address("keeper.motet"), sheets["keeper.motet"]
	place := func(word string) (line, character int) {
		t.Helper()
		at := strings.Index(text, word)
		require.GreaterOrEqual(t, at, 0, word)
		at += len(word) - 1
		return strings.Count(text[:at], "\n"), at - strings.LastIndex(text[:at], "\n") - 1
	}
	rows := []struct{ word, says string }{
		{"\nsheet k", "the figure moving through keeper-wait"},
		{"\npose on-l", "the figure going into the pose on-left"},
		{"\npose on-left\n  hips/s", "the curve of hips/side over the cycle"},
		{"\ntrack head\n  at      n", "the curve of head/nod over the cycle"},
	}
	c := connect(t, markdown, wishing(m{"hoverPictures": true}), counts("utf-8"))
	c.open(uri, text)
	for _, row := range rows {
		line, character := place(row.word)
		hover, pictures := c.shown(uri, line, character)
		require.Len(t, pictures, 1, hover)
		require.Equal(t, row.says, strings.ReplaceAll(pictures[0][0], `\`, ""))
		require.Less(t, len(hover), 100_000) // VS Code shows nothing of a longer one
		require.NotContains(t, hover, "▁", "a curve that is drawn needs no bars")
		moves := strings.Contains(row.says, "figure")
		require.Equal(t, moves, strings.Contains(pictures[0][1], "<animate"))
		require.Equal(t, moves, strings.Contains(pictures[0][1], "prefers-reduced-motion"))
	}
}

// Pictures are for who asks for them, and for nobody else: not for a client that shows Markdown, and not for one that
// asks and does not.
func TestHoverPicturesOnlyWhereAsked(t *testing.T) {
	address, sheets := demo(t)
	uri, text := address("keeper.motet"), sheets["keeper.motet"]
	for _, row := range []struct {
		name   string
		client []m
	}{
		{"no wish", []m{markdown}},
		{"null", []m{markdown, wishing(nil)}},
		{"another server's wishes", []m{markdown, wishing([]int{1})}},
		{"the wrong kind", []m{markdown, wishing(m{"hoverPictures": "yes"})}},
		{"a wish for none", []m{markdown, wishing(m{"hoverPictures": false})}},
		{"plain text", []m{wishing(m{"hoverPictures": true})}},
	} {
		t.Run(row.name, func(t *testing.T) {
			c := connect(t, row.client...)
			c.open(uri, text)
			line := strings.Count(text[:strings.Index(text, "\nsheet ")], "\n") + 1
			hover, pictures := c.shown(uri, line, 8)
			require.Empty(t, pictures)
			require.NotContains(t, hover, "svg")
			require.Contains(t, hover, "keys a second")
		})
	}
}

// Whatever a sheet says, a hover with pictures in it is one, and is short enough: spans, breaths, rigs of one joint, curves
// that step, cycles of a thousand beats, and sheets that are wrong.
func TestHoverPicturesOfEverySheet(t *testing.T) {
	if testing.Short() {
		t.Skip("one hover after the other")
	}
	root, err := filepath.Abs(filepath.Join("..", "testdata"))
	require.NoError(t, err)
	// A client that pulls, so that nothing checks the sheet of 100 000 beats meanwhile.
	c := connect(t, pulls, markdown, wishing(m{"hoverPictures": true}), counts("utf-8"))
	drawn := 0
	sheets := map[string]string{}
	require.NoError(t, filepath.WalkDir(root, func(path string, _ fs.DirEntry, err error) error {
		if err == nil && filepath.Ext(path) == ".motet" {
			text, err := os.ReadFile(path)
			sheets["file://"+filepath.ToSlash(path)] = string(text)
			return err
		}
		return err
	}))
	sheets["file://"+root+"/quay/long.motet"] = "sheet long\n  rig quayfolk in \"quayfolk.motet\"\n  tempo 80 bpm\n  cycle 100000b\n\ntrack hips\n  at side drop\n  0b 1 2\n  1b 3 4\n  99999b 4 9=\n"
	sheets["file://"+root+"/quay/short.motet"] = "sheet short\n  rig quayfolk in \"quayfolk.motet\"\n  tempo 80 bpm\n  cycle 1f\n\ntrack hips\n  at side\n  0b 1\n"
	i := 0
	for _, uri := range slices.Sorted(maps.Keys(sheets)) {
		c.open(uri, sheets[uri])
		for number, line := range strings.Split(sheets[uri], "\n") {
			for _, atom := range atomsOf(line) {
				if i++; i%(29*slow) != 0 && number > 0 && !strings.Contains(uri, "/long") {
					continue
				}
				hover, pictures := c.shown(uri, number, atom.Span.Start)
				require.Less(t, len(hover), 100_000)
				drawn += len(pictures)
			}
		}
		c.close(uri)
	}
	require.Greater(t, drawn, 100/slow)
	require.Empty(t, c.log.String(), "no hover failed")
}

// A cut of the pictures keeps the words: what does not fit is left out whole.
func TestPicturesThatDoNotFitAreLeftOut(t *testing.T) {
	big := func() []byte { return make([]byte, 50_000) }
	c := card{title: "a", tells: "b", curve: "▁", shows: []picture{{"one", big}, {"none", func() []byte { return nil }}, {"two", big}, {"three", func() []byte { return make([]byte, 100) }}}}
	drawings := c.drawings()
	require.Equal(t, 2, len(drawings)) // Len would print all letters of them
	require.True(t, strings.HasPrefix(drawings[1], "![three]"))
	require.Less(t, len(c.withPictures(drawings)), 100_000)
	require.Contains(t, c.withPictures(nil), "▁")
}
