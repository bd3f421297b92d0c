package motion

import "github.com/motet-sheet/motet/grammar"

// RoundOf is the time after which a block's rows come again, in frames: its `every`, or the sheet's length, also for an
// `every` that is no time at all.
func (s *Sheet) RoundOf(b *grammar.Block) grammar.Rat {
	var every *grammar.Moment
	switch opener := b.Opener.(type) {
	case *grammar.TrackLine:
		every = opener.Every
	case *grammar.BlockingLine:
		every = opener.Every
	}
	if every != nil {
		if round := every.Time.In(s.Rate, s.Beat); round.OK() && round.Sign() > 0 {
			return round
		}
	}
	return s.Length
}
