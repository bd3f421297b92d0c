package lint

import (
	"fmt"
	"math"
	"slices"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

func offBeat() *Rule {
	return &Rule{
		Name: "off-beat", Group: TimingGroup, Level: Warning,
		Limits: []grammar.Limit{{Value: 0.5, Unit: "f"}, {Value: 0.25, Unit: "s"}, {Value: 0.5, Unit: "cm"}, {Value: 1, Unit: "deg"}, {Value: 1, Unit: "%"}},
		Doc: Doc{
			Reports: "An accent off the grid: a row of the blocking, or a key at which a curve turns.",
			Why:     "A loop has a pulse. Where the weight turns beside the beat it reads as a stumble, and against music as a mistake.",
			Decides: "A key is an accent where its curve arrives one way and leaves the other way or not at all; one that is only passed through is none, and of a plateau only the first key is. A turn that comes back by less than 0.5 cm, 1° or 1 % is too small to be seen as one. The end of a moving hold is none either, nor are eyes and lids, which dart and blink when they like. The accent's time as it is written is held against the nearest multiple of `grid`: a row of the blocking and a channel of the root within 0.5f, which is rounding; everything else is carried and may come up to a quarter second late or 1f early, since what is carried drags (common practice). When all accents of a track are late alike, one report says so. And when five or more are off the grid, half as many as chance would have there or more, one report says that the motion does not keep this beat.",
			Allow:   "When the accent is meant to fall beside the beat: a cough, a slip.",
			Mends:   "Moves the row to the nearest grid line; that is the animator's choice, so --fix leaves it. A track that is late as a whole is written on the beat and played late by an `overlap` row, which leaves the motion as it is, and --fix does so.",
			Bad:     "track hips\n  at      side\n  0b      2\n  1b+4f   -2\n",
			Good:    "track hips\n  at      side\n  0b      2\n  1b      -2\n",
		},
		Check: checkOffBeat,
	}
}

// accent is a row at which something turns.
type accent struct {
	block    *grammar.Block
	line     int
	time     grammar.Rat // frames, as written
	channels []string    // that turn there
	pose     string      // that is reached there, of a row of the blocking
	root     bool
}

func checkOffBeat(p *Pass) {
	s := p.Motion.Sheet
	if len(p.Strands()) == 0 || s.Grid.Sign() <= 0 {
		return
	}
	var plain []accent
	for _, a := range p.Motion.Plain {
		if p.doubts[a.At.Block] || a.Time == s.Length || a.Time == s.RoundOf(a.At.Block) {
			continue
		}
		plain = append(plain, accent{block: a.At.Block, line: a.At.Line, time: a.Time, pose: a.Pose, root: true})
	}
	groups := []accents{p.againstGrid(plain)}
	for _, g := range p.accents() {
		if len(g.off) < len(g.all) || !p.lateAlike(g.all) {
			groups = append(groups, g)
		}
	}
	if p.keepsNoBeat(groups) {
		return
	}
	for _, g := range groups {
		for _, i := range g.off {
			p.offBeat(&g.all[i])
		}
	}
}

// accents are those of one block.
type accents struct {
	all    []accent
	off    []int   // those that lie off the grid, by their place in all
	chance float64 // how many would by chance
}

// againstGrid tells which accents lie off the grid.
func (p *Pass) againstGrid(all []accent) accents {
	a := accents{all: all}
	for i := range all {
		if p.isOff(&all[i]) {
			a.off = append(a.off, i)
		}
		late, early := p.mayBe(all[i].root)
		a.chance += max(0, 1-(late+early)/p.Motion.Sheet.Grid.Float())
	}
	return a
}

// keepsNoBeat reports a motion whose accents fall beside the grid about as often as those of one that knows nothing of it
// would, once for all of them, and tells whether it did.
func (p *Pass) keepsNoBeat(groups []accents) bool {
	const few = 5
	off, all, chance := 0, 0, 0.0
	for _, g := range groups {
		off, all, chance = off+len(g.off), all+len(g.all), chance+g.chance
	}
	if off < few || float64(off) < chance/2 {
		return false
	}
	s := p.Motion.Sheet
	at := s.At("tempo")
	if _, given := s.Lines["tempo"]; !given {
		at = s.At("beat")
	}
	finding := p.Report(at, "%d of %d accents lie off the grid of %s, where chance alone would put %d: the motion does not keep this beat; give it the tempo that it has, or a finer grid", off, all, duration(s, s.Grid), int(math.Round(chance)))
	finding.faults = off
	return true
}

// accents gives the accents of the tracks, a block each, in the order in which the rig's channels come to them. Keys of one
// row are one accent.
func (p *Pass) accents() []accents {
	var order []*grammar.Block
	turns := map[*grammar.Block][]turning{}
	for i := range p.Strands() {
		s := &p.Strands()[i]
		part := p.Motion.Rig.PartOf(s.Channel.Dial)
		if part == motion.PartEye || part == motion.PartLid {
			continue
		}
		least := p.Limit(s.Channel.Dial.Unit)
		for _, block := range p.turnsByBlock(s, least) {
			there := turns[block]
			if there == nil {
				order = append(order, block)
			}
			turns[block] = append(there, turning{s.Strand, s.Channel.Dial, least, part == motion.PartRoot})
		}
	}
	var out []accents
	for _, block := range order {
		out = append(out, p.accentsOf(block, turns[block]))
	}
	return out
}

// turning is one curve that turns in a block.
type turning struct {
	strand *motion.Strand
	dial   *motion.Dial
	least  float64
	root   bool
}

// accentsTerms are all that a block's accents, and where they lie, go by.
type accentsTerms struct {
	turns      []turning
	grid, rate grammar.Rat
	f, s       float64 // limits
}

func (t accentsTerms) same(o accentsTerms) bool {
	return t.grid == o.grid && t.rate == o.rate && t.f == o.f && t.s == o.s && slices.Equal(t.turns, o.turns)
}

// accentsOf gives a block's accents in the order of its rows.
func (p *Pass) accentsOf(block *grammar.Block, turns []turning) accents {
	terms := accentsTerms{turns, p.Motion.Sheet.Grid, p.Motion.Sheet.Rate, p.Limit("f"), p.Limit("s")}
	return recallBy(p.subject, &p.blockFacts(block).accents, terms, accentsTerms.same, func() accents {
		return p.againstGrid(accentsIn(block, turns))
	})
}

// accentsIn gives the accents of the curves that turn in a block, in the order of its rows.
func accentsIn(block *grammar.Block, turns []turning) []accent {
	each := func(take func(t *turning, k *motion.Key)) {
		for i := range turns {
			t := &turns[i]
			for i, size := range t.strand.Curve.TurnSizes() {
				if k := &t.strand.Keys[i]; k.At.Block == block && isAccent(k, size, t.least) {
					take(t, k)
				}
			}
		}
	}
	places := make([]int32, len(block.Lines)) // of each line's accent, counted from 1; 0 for none
	each(func(_ *turning, k *motion.Key) { places[k.At.Line] = 1 })
	count := int32(0)
	for line := range places {
		if places[line] > 0 {
			count++
			places[line] = count
		}
	}
	out := make([]accent, count)
	each(func(t *turning, k *motion.Key) {
		a := &out[places[k.At.Line]-1]
		if a.block == nil {
			*a = accent{block: block, line: k.At.Line, time: k.Time}
		}
		a.add(t.dial.Path, t.root)
	})
	return out
}

func isAccent(k *motion.Key, size, least float64) bool {
	return k.From == motion.FromTrack && size >= least
}

// turnsByBlock gives the blocks in which a curve has accents, in the order of its keys.
func (s *subject) turnsByBlock(strand *Strand, least float64) []*grammar.Block {
	return recall(s, &s.ofStrand(strand).turns, least, func() []*grammar.Block { return turningBlocks(strand, least) })
}

func turningBlocks(strand *Strand, least float64) (blocks []*grammar.Block) {
	if goesAtMost(strand.Strand) < least {
		return nil
	}
	for i, size := range strand.Curve.TurnSizes() {
		if k := &strand.Keys[i]; isAccent(k, size, least) && !slices.Contains(blocks, k.At.Block) {
			blocks = append(blocks, k.At.Block)
		}
	}
	return blocks
}

// add lets a channel take part in the accent.
func (a *accent) add(channel string, root bool) {
	a.root = a.root || root
	if !slices.Contains(a.channels, channel) {
		a.channels = append(a.channels, channel)
	}
}

// what says what happens at the accent.
func (a *accent) what() string {
	switch len(a.channels) {
	case 0:
		return "the pose `" + a.pose + "` is reached"
	case 1:
		return a.channels[0] + " turns"
	case 2:
		return a.channels[0] + " and " + a.channels[1] + " turn"
	}
	return fmt.Sprintf("%s and %d more channels turn", a.channels[0], len(a.channels)-1)
}

// behind is how far a time lies behind the grid line before it, in frames.
func (p *Pass) behind(t grammar.Rat) grammar.Rat { return t.Mod(p.Motion.Sheet.Grid) }

// mayBe is how far behind a grid line, and before one, an accent may come, in frames.
func (p *Pass) mayBe(root bool) (late, early float64) {
	rounding := p.Limit("f")
	if root {
		return rounding, rounding
	}
	return max(p.Limit("s")*p.Motion.Sheet.Rate.Float(), rounding), 2 * rounding
}

func (p *Pass) isOff(a *accent) bool {
	late, early := p.mayBe(a.root)
	behind := p.behind(a.time)
	return behind.Float() > late+1e-9 && p.Motion.Sheet.Grid.Sub(behind).Float() > early+1e-9
}

func (p *Pass) offBeat(a *accent) {
	if !p.isOff(a) {
		return
	}
	s := p.Motion.Sheet
	line := s.Grid.Mul(grammar.Whole(a.time.Div(s.Grid).Round()))
	side, by := "after", a.time.Sub(line)
	if by.Sign() < 0 {
		side, by = "before", by.Neg()
	}
	finding := p.Report(a.block.Ref(a.line, a.block.Lines[a.line].Cells[0].Span), "%s at %s, %s %s the grid line at frame %s; %s",
		a.what(), moment(s, a.time), duration(s, by), side, frameNumber(line), p.wanted(a.root))
	written := a.block.Lines[a.line].Cells[0].Time
	if written.Beats.IsZero() { // a grid line between two frames has no good name in frames or seconds
		line = grammar.Whole(line.Round())
	}
	if !p.holdBetween(a, line) {
		if edits, ok := p.moveRow(a.block, a.line, line); ok {
			finding.Mends = []motion.Mend{{Title: "move the row to " + timeText(s, a.block.Lines[a.line].CellText(0), line), Edits: edits}}
		}
	}
}

// wanted says what the accent should do.
func (p *Pass) wanted(root bool) string {
	if root {
		return "put it on the grid"
	}
	late, _ := p.mayBe(false)
	return "what is carried may come up to " + number(late) + "f late"
}

// holdBetween tells whether a row cannot move to a time because a moving hold ends between, its own or another row's.
func (p *Pass) holdBetween(a *accent, to grammar.Rat) bool {
	column := a.block.ColumnIndex("until")
	if a.block.Kind != grammar.BlockingBlock || column < 0 {
		return false
	}
	from := a.time
	if to.Cmp(from) < 0 {
		from, to = to, from
	}
	for line := range a.block.Rows() {
		cells := a.block.Lines[line].Cells
		if column >= len(cells) || cells[column].Time == nil {
			continue
		}
		if until := cells[column].Time.In(p.Motion.Sheet.Rate, p.Motion.Sheet.Beat); until.Cmp(from) >= 0 && until.Cmp(to) <= 0 {
			return true
		}
	}
	return false
}
