package motion

import (
	"math"

	"github.com/motet-sheet/motet/grammar"
)

// quiverPart is a quiver as it is written, its patterns worked out.
type quiverPart struct {
	repeat
	name, layer string
	band        [2]float64 // Hz
	seed        uint64
	amounts     []amountPart
	at, bandAt  grammar.Ref
}

// breathPart is a breath as it is written, its patterns worked out.
type breathPart struct {
	repeat
	name, layer   string
	count         int
	inhale, pause float64 // shares
	startsWritten grammar.Time
	starts        grammar.Rat // frames
	amounts       []amountPart
	at            grammar.Ref
}

// amountPart is how much of a quiver or of a breath one channel gets.
type amountPart struct {
	channel int
	amount  float64
	at      grammar.Ref
}

// Wave is a quiver or a breath of one channel.
type Wave struct {
	Quiver *Quiver // one of the two
	Breath *Breath
	Name   string
	At     grammar.Ref // the line that gives the amplitude or the depth
}

func (w *Wave) at(t float64) (value, slope float64) {
	if w.Quiver != nil {
		return w.Quiver.at(t)
	}
	return w.Breath.at(t)
}

// quivers reads the sheet's own quivers; each replaces an inherited one of its name.
func (r *resolver) quivers() {
	seen := map[string]grammar.Ref{}
	for _, b := range r.blocks {
		opener, ok := b.Opener.(*grammar.QuiverLine)
		if !ok {
			continue
		}
		twice := r.nameTwice("quiver", opener.Name, b, seen)
		part := &quiverPart{name: opener.Name.Key(), layer: layerKey(opener.Layer), seed: 1, at: b.RefLine(b.Open)}
		part.repeat = r.repeat(opener.Every, everyAt(b, opener.Every))
		for i, stmt := range b.Entries() {
			switch line := stmt.(type) {
			case *grammar.BandLine:
				part.band[0], part.band[1], _, _ = line.Band.Numbers()
				part.bandAt = b.Ref(i, line.Band.Where())
			case *grammar.SeedLine:
				part.seed = uint64(line.Seed.Decimal.Value)
			case *grammar.AmountLine:
				part.amounts = r.setAmounts(part.amounts, line, b, i)
			}
		}
		if part.bandAt.IsZero() {
			if !hasBadLine(b) {
				r.add(ruleMissingLine, part.at, "the quiver has no band; add the frequencies it may have, such as `band 0.6..2.5 Hz`")
			}
			continue
		}
		if twice {
			continue // it was read for its own faults alone
		}
		r.material.quivers = replaceNamed(r.material.quivers, part, func(q *quiverPart) bool { return q.name == part.name })
	}
}

// breaths reads the sheet's own breaths; each replaces an inherited one of its name.
func (r *resolver) breaths() {
	seen := map[string]grammar.Ref{}
	for _, b := range r.blocks {
		opener, ok := b.Opener.(*grammar.BreathLine)
		if !ok {
			continue
		}
		twice := r.nameTwice("breath", opener.Name, b, seen)
		part := &breathPart{name: opener.Name.Key(), layer: layerKey(opener.Layer), count: 1, inhale: 0.4, at: b.RefLine(b.Open)}
		part.repeat = r.repeat(opener.Every, everyAt(b, opener.Every))
		for i, stmt := range b.Entries() {
			r.breathLine(part, stmt, b, i)
		}
		if part.inhale+part.pause >= 1 {
			r.add(ruleOutside, part.at, "the in-breath and the pause take %.4g %% of the breath and leave no time to breathe out; shorten one of them", 100*(part.inhale+part.pause))
			continue
		}
		if twice {
			continue // it was read for its own faults alone
		}
		r.material.breaths = replaceNamed(r.material.breaths, part, func(q *breathPart) bool { return q.name == part.name })
	}
}

func (r *resolver) breathLine(part *breathPart, stmt grammar.Statement, b *grammar.Block, i int) {
	switch line := stmt.(type) {
	case *grammar.CountLine:
		part.count = int(math.Min(line.Count.Decimal.Value, 1e6))
	case *grammar.InhaleLine:
		part.inhale = line.Inhale.Decimal.Value / 100
	case *grammar.PauseLine:
		part.pause = line.Pause.Decimal.Value / 100
	case *grammar.StartsLine:
		part.startsWritten, part.starts = line.Starts.Time, r.frames(line.Starts.Time)
	case *grammar.AmountLine:
		part.amounts = r.setAmounts(part.amounts, line, b, i)
	}
}

func everyAt(b *grammar.Block, every *grammar.Moment) grammar.Ref {
	if every == nil {
		return grammar.Ref{}
	}
	return b.Ref(b.Open, every.Where())
}

func hasBadLine(b *grammar.Block) bool {
	for i := range b.Lines {
		if b.Lines[i].Kind == grammar.BadLine {
			return true
		}
	}
	return false
}

func (r *resolver) nameTwice(kind string, name grammar.Name, b *grammar.Block, seen map[string]grammar.Ref) bool {
	at := b.Ref(b.Open, name.Where())
	if before, twice := seen[name.Key()]; twice {
		problem := r.add(ruleRepeatedName, at, "the %s `%s` is already there; give this one another name", kind, name.Key())
		problem.Related = []Related{{before, "the first one"}}
		return true
	}
	seen[name.Key()] = at
	return false
}

func replaceNamed[T any](list []*T, own *T, same func(*T) bool) []*T {
	for i, item := range list {
		if same(item) {
			list[i] = own
			return list
		}
	}
	return append(list, own)
}

// setAmounts gives channels an amount; of several lines that fit a channel the last counts.
func (r *resolver) setAmounts(amounts []amountPart, line *grammar.AmountLine, b *grammar.Block, i int) []amountPart {
	for _, channel := range r.channelsOf(line.Channels, b.Ref(i, line.Channels.Where())) {
		a := amountPart{channel, line.Amount.Decimal.Value, b.RefLine(i)}
		at := -1
		for k := range amounts {
			if amounts[k].channel == channel {
				at = k
			}
		}
		if at >= 0 {
			amounts[at] = a
			continue
		}
		amounts = append(amounts, a)
	}
	return amounts
}

// weaveWaves adds quivers and breaths to their channels, in the base or in their layer.
func (r *resolver) weaveWaves() {
	for _, part := range r.material.quivers {
		period := part.period
		first, last := Harmonics(r.Sheet.Seconds(period).Float(), part.band[0], part.band[1])
		if last < first {
			r.emptyBand(part)
			continue
		}
		for _, a := range part.amounts {
			terms := quiverTerms{r.Motion.Rig.Channels[a.channel].Path, part.seed, period.Float(), a.amount, first, last}
			r.addWave(a.channel, part.layer, Wave{Quiver: r.quiver(terms), Name: part.name, At: a.at})
		}
	}
	for _, part := range r.material.breaths {
		for _, a := range part.amounts {
			breath := NewBreath(part.period.Float(), part.count, part.starts.Float(), part.inhale, part.pause, a.amount)
			r.addWave(a.channel, part.layer, Wave{Breath: breath, Name: part.name, At: a.at})
		}
	}
}

// quiver makes a quiver, or takes over that of the earlier motion or of the base: finding its peak takes a tenth of a
// millisecond, and a cast is made from one base.
func (r *resolver) quiver(terms quiverTerms) *Quiver {
	for _, m := range [2]*Motion{r.earlier, r.Base} {
		if m == nil {
			continue
		}
		c := m.Channel(terms.path)
		if c == nil {
			continue
		}
		if q := quiverOn(terms, c.Waves); q != nil {
			return q
		}
		for i := range c.over {
			if q := quiverOn(terms, c.over[i].waves); q != nil {
				return q
			}
		}
	}
	return NewQuiver(terms.path, terms.seed, terms.period, terms.amplitude, terms.first, terms.last)
}

func quiverOn(terms quiverTerms, waves []Wave) *Quiver {
	for i := range waves {
		if q := waves[i].Quiver; q != nil && q.terms == terms {
			return q
		}
	}
	return nil
}

// emptyBand reports a band that holds none of its period's harmonics, with the nearest one.
func (r *resolver) emptyBand(part *quiverPart) {
	seconds := r.Sheet.Seconds(part.period).Float()
	h := max(1, math.Round((part.band[0]+part.band[1])/2*seconds))
	at := part.bandAt
	if at.Path() != r.File.Path {
		at = r.Sheet.At("from")
	}
	r.add(ruleOutside, at, "no movement that loops in %.4g s has a frequency from %g to %g Hz; the nearest is %.4g Hz, so let the band reach it", seconds, part.band[0], part.band[1], h/seconds)
}

func (r *resolver) addWave(channel int, layer string, w Wave) {
	c := &r.Channels[channel]
	if layer == "" {
		c.Waves = append(c.Waves, w)
		return
	}
	for i := range c.over {
		if c.over[i].layer.Name == layer {
			c.over[i].waves = append(c.over[i].waves, w)
			return
		}
	}
	for _, l := range r.Layers {
		if l.Name == layer {
			c.over = append(c.over, overlay{layer: l, waves: []Wave{w}})
		}
	}
}
