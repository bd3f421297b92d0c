package server

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// refreshing is a client that can be told to ask again for everything.
var refreshing = m{"workspace": m{
	"diagnostics": m{"refreshSupport": true}, "inlayHint": m{"refreshSupport": true}, "codeLens": m{"refreshSupport": true},
	"semanticTokens": m{"refreshSupport": true},
}}

// askedFor are the refreshes that the server has asked for, by what.
func (c *testClient) askedFor() map[string]int {
	out := map[string]int{}
	for _, a := range c.heard() {
		out[a.Method]++
	}
	return out
}

func (c *testClient) awaitRefresh(n int) {
	c.t.Helper()
	c.wait(fmt.Sprintf("refresh %d", n), func() bool {
		lenses := 0
		for _, a := range c.asked {
			if a.Method == "workspace/codeLens/refresh" {
				lenses++
			}
		}
		return n <= lenses
	})
}

const variantOfHints = "sheet deckhand-slow\n  from      deckhand-wait in \"wait.motet\"\n"

// What is shown of a variant is asked for again after its base was changed in another buffer, and then says something
// else, though the variant's own text is what it was. A burst of changes is one refresh.
func TestRefreshAfterABaseChanged(t *testing.T) {
	address := quay(t, map[string]string{"deckhand.motet": deckhandRig, "wait.motet": hintSheet})
	base, variant := address("wait.motet"), address("slow.motet")
	c := connect(t, pulls, refreshing)
	c.open(base, hintSheet)
	c.open(variant, variantOfHints)
	lens := func() string { return string(c.call("textDocument/codeLens", m{"textDocument": m{"uri": variant}})) }
	require.Contains(t, lens(), "72 frames")
	require.Empty(t, c.askedFor(), "nothing was told yet that is out of date")
	for i := range 20 {
		c.change(base, 2+i, part(3, 12, 3, 14, fmt.Sprint(60+i)))
	}
	c.change(base, 22, part(3, 12, 3, 14, "90"))
	c.awaitRefresh(1)
	require.Equal(t, map[string]int{
		"workspace/diagnostic/refresh": 1, "workspace/inlayHint/refresh": 1, "workspace/codeLens/refresh": 1,
	}, c.askedFor(), "tokens are read from a sheet's own text and need none")
	require.Contains(t, lens(), "64 frames") // 4 beats of 24*60/90 = 16 frames
	c.call("textDocument/diagnostic", m{"textDocument": m{"uri": variant}})
	c.call("textDocument/diagnostic", m{"textDocument": m{"uri": base}})
	c.change(variant, 2, part(0, 0, 0, 0, "# slow\n")) // nobody rests on it
	time.Sleep(3 * refreshPause)
	require.Equal(t, 1, c.askedFor()["workspace/codeLens/refresh"])
}

// A rig that changes on disk is a reason as well; and a client is asked for nothing that it does not have.
func TestRefreshAfterARigChangedOnDisk(t *testing.T) {
	address := quay(t, map[string]string{"deckhand.motet": deckhandRig, "wait.motet": hintSheet})
	rig, sheet := address("deckhand.motet"), address("wait.motet")
	for _, row := range []struct {
		client m
		asked  map[string]int
	}{
		{m{"workspace": m{"codeLens": m{"refreshSupport": true}}}, map[string]int{"workspace/codeLens/refresh": 1}},
		{m{}, map[string]int{}},
	} {
		t.Run(fmt.Sprint(row.asked), func(t *testing.T) {
			c := connect(t, row.client)
			c.open(sheet, hintSheet)
			c.call("textDocument/inlayHint", m{"textDocument": m{"uri": sheet}, "range": span(0, 0, 99, 0)})
			c.notify("workspace/didChangeWatchedFiles", m{"changes": []m{{"uri": rig, "type": 2}}})
			c.awaitRefresh(len(row.asked))
			require.Equal(t, row.asked, c.askedFor())
		})
	}
}

// Hints are worked out without the motion of the sheet, and rest on its base all the same.
func TestRefreshOfHints(t *testing.T) {
	address := quay(t, map[string]string{"deckhand.motet": deckhandRig, "wait.motet": hintSheet})
	base, variant := address("wait.motet"), address("slow.motet")
	c := connect(t, m{"workspace": m{"inlayHint": m{"refreshSupport": true}}}, pulls)
	c.open(base, hintSheet)
	c.open(variant, variantOfHints+"\ntrack hips\n  at      side\n  1b      1\n")
	hints := func() string {
		return string(c.call("textDocument/inlayHint", m{"textDocument": m{"uri": variant}, "range": span(0, 0, 99, 0)}))
	}
	require.Contains(t, hints(), "18f")
	c.change(base, 2, part(3, 12, 3, 14, "90"))
	c.wait("a refresh", func() bool { return 0 < len(c.asked) })
	require.Equal(t, map[string]int{"workspace/inlayHint/refresh": 1}, c.askedFor())
	require.Contains(t, hints(), "16f")
}

// A client that never answers a refresh is served all the same, and asked again after the next change.
func TestAClientThatNeverAnswersARefresh(t *testing.T) {
	address := quay(t, map[string]string{"deckhand.motet": deckhandRig, "wait.motet": hintSheet})
	base, variant := address("wait.motet"), address("slow.motet")
	c := connect(t, refreshing, m{"workspace": m{"diagnostics": m{"refreshSupport": false}}})
	c.mu.Lock()
	c.silent = true
	c.mu.Unlock()
	c.open(base, hintSheet)
	c.open(variant, variantOfHints)
	for version := range 2 {
		c.call("textDocument/codeLens", m{"textDocument": m{"uri": variant}})
		c.change(base, 2+version, part(3, 12, 3, 14, "90"))
		c.awaitRefresh(1 + version)
	}
}
