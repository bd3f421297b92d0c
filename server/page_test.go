package server

import (
	"bufio"
	"encoding/json"
	"io"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var showsDocuments = m{"window": m{"showDocument": m{"support": true}}}

// listen opens a page's stream of events, as its browser does.
func listen(t *testing.T, address string) *bufio.Reader {
	t.Helper()
	response, err := http.Get(address + "changes")
	require.NoError(t, err)
	require.Equal(t, http.StatusOK, response.StatusCode)
	t.Cleanup(func() { _ = response.Body.Close(); http.DefaultClient.CloseIdleConnections() })
	return bufio.NewReader(response.Body)
}

// hear gives the next event of a kind.
func hear(t *testing.T, events *bufio.Reader, kind string, into any) {
	t.Helper()
	for {
		line, err := events.ReadString('\n')
		require.NoError(t, err)
		if line != "event: "+kind+"\n" {
			continue
		}
		line, err = events.ReadString('\n')
		require.NoError(t, err)
		require.NoError(t, json.Unmarshal([]byte(strings.TrimPrefix(line, "data: ")), into))
		return
	}
}

type list struct {
	Opens  bool
	Sheets []struct {
		Path  string
		Since int
	}
}

func (l *list) since(path string) int {
	for _, s := range l.Sheets {
		if s.Path == path {
			return s.Since
		}
	}
	return -1
}

func get(t *testing.T, address string) string {
	t.Helper()
	response, err := http.Get(address)
	require.NoError(t, err)
	defer func() { _ = response.Body.Close() }()
	body, err := io.ReadAll(response.Body)
	require.NoError(t, err)
	require.Equal(t, http.StatusOK, response.StatusCode, string(body))
	return string(body)
}

// shownDocuments are what the client was asked to show, once it has been asked some number of times.
func (c *testClient) shownDocuments(times int) (out []map[string]any) {
	c.wait("what is to be shown", func() bool {
		out = nil
		for _, asked := range c.asked {
			if asked.Method == "window/showDocument" {
				out = append(out, parse[map[string]any](c.t, asked.Params))
			}
		}
		return len(out) >= times
	})
	return out
}

// TestThePageFollowsWhatIsTyped types into a sheet that is never saved, and looks at what a page would see.
func TestThePageFollowsWhatIsTyped(t *testing.T) {
	address, sheets := demo(t)
	c := connect(t, m{"rootUri": address("")}, showsDocuments)
	c.answerWith("window/showDocument", m{"success": true})
	keeper := address("keeper.motet")
	c.open(keeper, sheets["keeper.motet"])
	line := strings.Count(sheets["keeper.motet"][:strings.Index(sheets["keeper.motet"], "  7/2b    on-right")], "\n")
	show := m{"command": showPageCommand, "arguments": []any{keeper, m{"line": line, "character": 4}}}
	got := parse[string](t, c.call("workspace/executeCommand", show))
	page, fragment, _ := strings.Cut(got, "#")
	// Beat 7/2 at 18 frames a beat.
	asked, err := url.ParseQuery(fragment)
	require.NoError(t, err)
	require.Equal(t, url.Values{"sheet": {"keeper.motet"}, "frame": {"63"}}, asked)
	require.Equal(t, []map[string]any{{"uri": got, "external": true}}, c.shownDocuments(1))

	events := listen(t, page)
	var first, next list
	hear(t, events, "message", &first)
	assert.True(t, first.Opens)
	assert.Len(t, first.Sheets, 12, "sheets that are not open are there too")

	t.Run("typing", func(t *testing.T) {
		typed := strings.Replace(sheets["keeper.motet"], "hips/side         5.4", "hips/side         6.5", 1)
		c.change(keeper, 2, whole(typed))
		for hear(t, events, "message", &next); next.since("keeper.motet") == first.since("keeper.motet"); {
			next = list{}
			hear(t, events, "message", &next) // what was opened may be told of first
		}
		assert.Greater(t, next.since("apprentice.motet"), first.since("apprentice.motet"), "who is made from the keeper moves too")
		assert.True(t, strings.Contains(get(t, page+"sheet?path=keeper.motet"), `"  hips/side         6.5"`))

		c.change(keeper, 3, whole(strings.Replace(typed, "7/2b    on-right", "7/2b    on-rihgt", 1)))
		require.Eventually(t, func() bool {
			said := get(t, page+"faults?path=keeper.motet")
			return strings.Contains(said, "on-rihgt") && strings.Contains(said, `"level":"error"`)
		}, patience, 10*time.Millisecond)
		c.change(keeper, 4, whole(typed))
		lists := func(done func() bool) list {
			require.Eventually(t, func() bool {
				next = list{}
				require.NoError(t, json.Unmarshal([]byte(get(t, page+"sheets")), &next))
				return done()
			}, patience, 10*time.Millisecond)
			return next
		}
		lists(func() bool { return !strings.Contains(get(t, page+"sheet?path=keeper.motet"), "on-rihgt") })
		before := lists(func() bool { return true })
		c.open(address("clerk.motet"), sheets["clerk.motet"]+"# later\n")
		after := lists(func() bool { return next.since("clerk.motet") > before.since("clerk.motet") })
		assert.Equal(t, before.since("keeper.motet"), after.since("keeper.motet"), "who is not made from the clerk stays")
	})

	t.Run("a place on the page opens in the editor", func(t *testing.T) {
		response, err := http.Post(page+"open?path=clerk.motet&line=3", "", nil)
		require.NoError(t, err)
		require.NoError(t, response.Body.Close())
		require.Equal(t, http.StatusNoContent, response.StatusCode)
		shown := c.shownDocuments(2)
		assert.Equal(t, map[string]any{
			"uri": address("clerk.motet"), "takeFocus": true,
			"selection": map[string]any{"start": map[string]any{"line": 3., "character": 0.}, "end": map[string]any{"line": 3., "character": 0.}},
		}, shown[len(shown)-1])
		response, err = http.Post(page+"open?path=clerk.motet&line=9999", "", nil)
		require.NoError(t, err)
		require.NoError(t, response.Body.Close())
		require.Equal(t, http.StatusNotFound, response.StatusCode)
	})

	t.Run("the command moves a page that is open", func(t *testing.T) {
		c.call("workspace/executeCommand", show)
		var place struct {
			Path   string
			Frames float64
		}
		hear(t, events, "place", &place)
		assert.Equal(t, "keeper.motet", place.Path)
		assert.InDelta(t, 63, place.Frames, 1e-9)
		assert.Len(t, c.shownDocuments(0), 2, "and opens no second one")
	})

	require.NoError(t, c.stop())
	_, _ = io.ReadAll(events) // it ends, in whatever way
	require.Eventually(t, func() bool {
		response, err := http.Get(page)
		if err == nil {
			_ = response.Body.Close()
		}
		return err != nil
	}, patience, 10*time.Millisecond, "the page ends with the server")
}

// TestThePageWithoutAClientThatShows gives the address all the same.
func TestThePageWithoutAClientThatShows(t *testing.T) {
	c := connect(t)
	c.open("untitled:Untitled-1", "rig crate\n\njoints\n  joint  on  x  y  z\n  box    .   0  0  0\n\nchannels\n  channel   joint  drives\n  box/side  .      move.x\n\nsheet crate-wait\n  cycle 1b\n\ntrack box\n  at  side\n  0b  1\n  1/2b  2\n")
	require.Equal(t, -32602, c.refused("workspace/executeCommand", m{"command": showPageCommand, "arguments": []any{1, 2, 3}}))
	require.Equal(t, -32602, c.refused("workspace/executeCommand", m{"command": showPageCommand, "arguments": []any{"untitled:Untitled-1", "here"}}))
	require.Equal(t, -32602, c.refused("workspace/executeCommand", m{"command": showPageCommand, "arguments": []any{"file:///nowhere.motet"}}))
	page := parse[string](t, c.call("workspace/executeCommand", m{"command": showPageCommand}))
	assert.Contains(t, get(t, page+"sheets"), `"opens":false,"sheets":[{"name":"crate-wait","path":"untitled:Untitled-1","whole":true,`)
	assert.Empty(t, c.shownDocuments(0))
	http.DefaultClient.CloseIdleConnections()
	require.NoError(t, c.stop())
}
