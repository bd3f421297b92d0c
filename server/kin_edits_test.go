package server

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// What a server says of a variant, after edits of it, its base, its rig and its house in other documents, is what a fresh one says
// that opens all of these as they are.
func TestRandomEditsOfTheSheetsThatASheetRestsOn(t *testing.T) {
	address, sheets := demo(t)
	names := []string{"tallywoman.motet", "keeper.motet", "quayfolk.motet", "house.motet"}
	sheets["house.motet"] = "house\n  rule            level   limit\n  lead-order      note    0.1s\n  off-beat        error   1f\n  spare-key       note    0.2deg\n"
	random := rand.New(rand.NewPCG(*seed, 13))
	c := dial(t)
	c.initialize(pulls, actionLiterals, counts(string(utf16Units)))
	typists, versions := map[string]*typist{}, map[string]int{}
	for _, name := range names {
		typists[name], versions[name] = newTypist(random, utf16Units, sheets[name]), 1
		c.open(address(name), sheets[name])
	}
	for i := range max(6, *editsAsked/slow) {
		name := names[random.IntN(len(names))]
		versions[name]++
		if random.IntN(3) == 0 {
			c.change(address(name), versions[name], typists[name].paste(sheets[name]))
		} else {
			c.change(address(name), versions[name], typists[name].edit())
		}
		if random.IntN(3) == 0 {
			continue // several edits on end, with nothing asked between
		}
		for _, name := range names[:2] {
			places := typists[name].places(3)
			got := c.about(address(name), places)
			anew := dial(t)
			anew.initialize(pulls, actionLiterals, counts(string(utf16Units)))
			for _, other := range names {
				anew.notify("textDocument/didOpen", m{"textDocument": m{"uri": address(other), "languageId": "motet", "version": versions[other], "text": typists[other].text()}})
			}
			require.Equal(t, anew.about(address(name), places), got, "%s after edit %d of seed %d:\n%s", name, i+1, *seed, typists[name].text())
			require.NoError(t, anew.stop())
		}
	}
}
