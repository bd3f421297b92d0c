package motion

import (
	"strings"

	"github.com/motet-sheet/motet/grammar"
)

// Differs tells in a few words each what a variant says for itself: its header lines, its change lines and its own
// blocks, in the order of the text. A sheet that is no variant has nothing to tell.
func (m *Motion) Differs() []string {
	if m.Sheet == nil || m.Sheet.From == nil {
		return nil
	}
	var out []string
	for _, b := range m.File.Blocks {
		switch opener := b.Opener.(type) {
		case *grammar.SheetLine:
			for i := range b.Entries() {
				word, _, _ := strings.Cut(lineWords(b, i), " ")
				switch word {
				case "from", "phase", "view":
				case "tempo":
					out = append(out, strings.TrimPrefix(lineWords(b, i), "tempo "))
				default:
					out = append(out, lineWords(b, i))
				}
			}
		case *grammar.PlainLine:
			if opener.Word == "change" {
				for i := range b.Entries() {
					out = append(out, lineWords(b, i))
				}
			} else if opener.Word != "notes" && opener.Word != "house" {
				out = append(out, "own "+opener.Word)
			}
		case *grammar.AmendLine:
			out = append(out, lineWords(b, b.Open))
		case nil:
		default:
			out = append(out, "own "+lineWords(b, b.Open))
		}
	}
	return out
}

// lineWords is what a line says, with single spaces.
func lineWords(b *grammar.Block, line int) string {
	return strings.Join(strings.Fields(b.RefLine(line).Text()), " ")
}

// KeyCount is the number of keys that move the sheet, in the base and in layers, each round of repeated material counted.
func (m *Motion) KeyCount() int {
	count := 0
	for i := range m.Channels {
		for _, s := range m.Channels[i].Strands() {
			rounds := 1
			if s.Period.Sign() > 0 && s.Period != m.Sheet.Length {
				rounds = int(m.Sheet.Length.Div(s.Period).Floor())
			}
			count += rounds * len(s.Keys)
		}
	}
	return count
}

// WorstSeam is the largest gap at the seam of any curve, measured in its channel's limit, and that channel; nil where
// every curve closes.
func (m *Motion) WorstSeam(limit func(unit string) float64) (worst *Channel, gap float64) {
	most := 0.0
	for i := range m.Channels {
		c := &m.Channels[i]
		for _, s := range c.Strands() {
			g := s.Curve.SeamGap()
			if g < 0 {
				g = -g
			}
			if over := g / limit(c.Dial.Unit); s.Closed() && over > most {
				worst, gap, most = c, g, over
			}
		}
	}
	return worst, gap
}
