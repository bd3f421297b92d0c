package server

import (
	"fmt"
	"slices"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
	"go.lsp.dev/protocol"
)

// drives are what a channel can move: the words of the language, the morph targets that the table names already, and the
// beginning of another one.
func (a *asking) drives() []candidate {
	var out []candidate
	for _, word := range append(grammar.Drives(), ".") {
		out = append(out, candidate{label: word, kind: protocol.CompletionItemKindEnumMember})
	}
	column := a.block.ColumnIndex("drives")
	var there []string
	for line := range a.block.Rows() {
		l := &a.block.Lines[line]
		if line == a.number || len(l.Cells) <= column {
			continue
		}
		if word, ok := grammar.MorphOf(l.CellText(column)); ok && !slices.Contains(there, word) {
			there = append(there, word)
			out = append(out, candidate{label: grammar.MorphPrefix + word, kind: protocol.CompletionItemKindEnumMember, detail: "a morph target"})
		}
	}
	return append(out, candidate{
		label: grammar.MorphPrefix + "NAME", plain: grammar.MorphPrefix, kind: protocol.CompletionItemKindEnumMember,
		detail: "a morph target of the character's file, by its name", snippet: grammar.MorphPrefix + "${1:smile}",
	})
}

// morphCard tells about a morph target: which one of the character's file it is, what drives it, and how far its weight
// goes in the sheet.
func morphCard(m *motion.Motion, text string) (card, bool) {
	word, ok := grammar.MorphOf(text)
	if !ok || m.Rig == nil || m.Rig.MorphIndex(word) < 0 {
		return card{}, false
	}
	target := m.Rig.MorphIndex(word)
	of := m.Rig.Morphs[target].Target
	c := card{title: text, tells: "the morph target “" + of.Name + "”"}
	if of.On {
		c.tells += " of the node “" + of.NodeName + "”"
	}
	moves := false
	for i := range m.Rig.Channels {
		dial := &m.Rig.Channels[i]
		for _, d := range dial.Morphs {
			if d.Target != target {
				continue
			}
			c.add(fmt.Sprintf("`%s` gives %s a per cent", dial.Path, strings.TrimPrefix(figure(d.Gain/100, 4), "+")))
			moves = moves || i < len(m.Channels) && m.Channels[i].Moves()
		}
	}
	if !moves || m.Sheet == nil || m.Sheet.Length.Sign() <= 0 {
		c.add("its weight stays at " + figure(m.Rig.RestWeights()[target], 4) + " here")
		return c, true
	}
	var values, weights []float64
	weight := func(frames float64) float64 {
		values = m.Values(frames, values)
		weights = m.Rig.Weights(values, weights)
		return weights[target]
	}
	least, most := extent(m, weight)
	c.curve = sparkline(weight, m.Sheet.Length.Float(), sparkColumns, -1)
	c.add("its weight goes from " + figure(least, 3) + " to " + figure(most, 3) + " here")
	return c, true
}
