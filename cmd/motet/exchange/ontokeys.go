package exchange

import (
	"math"
	"slices"
	"sort"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// rekey fits one of a channel's curves to the clip: the base's where layer is empty. A channel without such a curve gets
// one. share is how much of the curve is seen. It answers nil where the curve can't say what the clip wants.
func (r *retake) rekey(s *scribe, channel int, strand *motion.Strand, layer string, share float64) *plan {
	c := &r.motion.Channels[channel]
	period := r.motion.Sheet.Length
	closed := r.motion.Sheet.Closed
	if strand != nil {
		period, closed = strand.Period, strand.Closed()
	}
	table, ok := r.tableFor(s, c, strand, layer, period)
	if !ok {
		return nil
	}
	for _, raster := range r.rasters() {
		k := &rekeying{extent: motion.Extent{Length: period.Float(), Closed: closed}, beat: r.motion.Sheet.Beat.Float(), grid: r.motion.Sheet.Grid.Float(), unit: raster.Float(), rows: table.places(raster)}
		if strand != nil {
			k.extent = strand.Curve.Extent()
			k.takeKeys(strand, r.file)
		}
		late := 0.0
		if layer == "" {
			late = c.Late.Float()
		}
		if !r.aim(k, c, strand, layer, late, share) {
			return nil
		}
		if strand == nil {
			k.seed(r.footage.step)
		}
		if k.run() {
			return r.planOf(s, k, c, strand, layer, raster, table)
		}
	}
	return nil
}

// planOf is the plan to write a fitted curve; nil where nothing of it changes.
func (r *retake) planOf(s *scribe, k *rekeying, c *motion.Channel, strand *motion.Strand, layer string, raster grammar.Rat, table keyTable) *plan {
	cost := k.cost()
	if cost == 0 {
		return nil
	}
	if strand == nil {
		cost += freshCost
	}
	return &plan{layer, cost, func() { r.writeKeys(s, k, c, strand, layer, raster, table) }}
}

// rasters are what the times of new keys may be multiples of, in frames, the best one first: one, or where a beat is no
// whole number of frames a share of it, so that a row has a time that can be read.
func (r *retake) rasters() []grammar.Rat {
	beat, length := r.motion.Sheet.Beat, r.motion.Sheet.Length
	var out []grammar.Rat
	if !beat.IsWhole() {
		for _, share := range []int64{8, 32} {
			if unit := beat.Div(grammar.Whole(share)); length.Div(unit).IsWhole() {
				out = append(out, unit)
			}
		}
	}
	if len(out) == 0 {
		out = append(out, grammar.Whole(1))
	}
	return out
}

// What a new key costs the reader of a diff beside a changed cell, and a new column or table.
const (
	newKeyCost = 2
	freshCost  = 2.5
)

// cost is how much of the text changes.
func (k *rekeying) cost() (cost float64) {
	for i := range k.cells {
		switch c := &k.cells[i]; {
		case c.fresh && c.gone:
		case c.fresh:
			cost += newKeyCost
		case c.changed():
			cost++
		}
	}
	return cost
}

// takeKeys makes pegs of a strand's keys.
func (k *rekeying) takeKeys(strand *motion.Strand, file *grammar.File) {
	type place struct {
		at   grammar.Ref
		from motion.Origin
	}
	cells := map[place]int{}
	for i := range strand.Keys {
		key := &strand.Keys[i]
		at := place{key.At, key.From}
		n, known := cells[at]
		if !known {
			n = len(k.cells)
			cells[at] = n
			knot := motion.Knot{Value: key.Value, Shape: key.Shape, SlopeIn: key.In, SlopeOut: key.Out, Marked: key.Marked}
			_, here := file.Locate(key.At)
			k.cells = append(k.cells, pegCell{
				Knot: knot, first: knot, tied: -1, foreign: !here,
				removable: here && key.From == motion.FromTrack && !key.Over && key.At.Block.Kind == grammar.TrackBlock,
			})
		}
		k.pegs = append(k.pegs, peg{key.Time.Float(), n, key.Ease})
		k.holds = k.holds || key.Shape == motion.Stay
	}
	last := len(k.pegs) - 1
	if last > 0 && k.extent.Closed && strand.Closes(last) && k.pegs[0].time == 0 && k.pegs[0].cell != k.pegs[last].cell {
		first, closing := &k.cells[k.pegs[0].cell], &k.cells[k.pegs[last].cell]
		if lift := closing.Value - first.Value; math.Abs(lift-k.extent.Gain) < 1e-9 {
			closing.tied, closing.lift = k.pegs[0].cell, lift
		}
	}
}

// aim sets what the curve has to stay inside. It is false where the clip asks for different things in different rounds
// of a curve that comes again, which no key of it can say.
func (r *retake) aim(k *rekeying, c *motion.Channel, strand *motion.Strand, layer string, late, share float64) bool {
	type moment struct{ at, want float64 }
	var moments []moment
	limit := r.gears.limits[c.Index] / share
	base := 0.0
	if layer == "" {
		base = c.Dial.Rest
	}
	for i, more := range r.want.more[c.Index] {
		if math.IsNaN(more) {
			continue
		}
		t := r.footage.at[i] - late
		if k.extent.Closed {
			t -= k.extent.Length * math.Floor(t/k.extent.Length)
		} else {
			t = math.Max(0, math.Min(k.extent.Length, t))
		}
		have := base
		if strand != nil {
			have = strand.Curve.At(t)
		}
		moments = append(moments, moment{t, have + more/share})
	}
	sort.SliceStable(moments, func(i, j int) bool { return moments[i].at < moments[j].at })
	for i := 0; i < len(moments); {
		low, high, sum, n := math.Inf(1), math.Inf(-1), 0.0, 0
		from := i
		for ; i < len(moments) && moments[i].at-moments[from].at < 1e-6; i++ {
			low, high = math.Min(low, moments[i].want), math.Max(high, moments[i].want)
			sum, n = sum+moments[i].want, n+1
		}
		if high-low > 1.9*limit {
			return false
		}
		k.at, k.want, k.half = append(k.at, moments[from].at), append(k.want, sum/float64(n)), append(k.half, limit)
	}
	if strand != nil {
		k.refine(r.footage.step)
	}
	return len(k.at) > 0
}

// seed begins a curve of its own: a constant where that does, or else the keys that the importer's fit chooses, rather on
// the beat and where the table has a row.
func (k *rekeying) seed(step float64) {
	low, high := slices.Min(k.want), slices.Max(k.want)
	key := func(place int, knot motion.Knot) {
		k.cells = append(k.cells, pegCell{Knot: knot, fresh: true, removable: true, tied: -1})
		k.pegs = append(k.pegs, peg{time: float64(place) * k.unit, cell: len(k.cells) - 1})
	}
	places := int(math.Round(k.extent.Length / k.unit))
	if high-low <= 2*k.half[0] || places < 2 {
		key(0, motion.Knot{Value: (low + high) / 2})
		return
	}
	t := &tube{frames: places, closed: k.extent.Closed, plainEnds: true}
	steps := places * stepsPerFrame
	if !t.closed {
		steps++
	}
	for n := range steps {
		at := float64(n) / stepsPerFrame * k.unit
		t.middle, t.half = append(t.middle, offAt(k.at, func(m int) float64 { return k.want[m] }, at, k.extent, false)), append(t.half, k.half[0])
		if k.away(at) > 1.5*step {
			t.half[n] *= 1000 // the clip says nothing here
		}
	}
	shared := map[int]bool{}
	for place := range places {
		shared[place] = k.rows[place] || k.onGrid(float64(place)*k.unit)
	}
	fit := fitKeys(t, shared)
	for i, place := range fit.at {
		slope := fit.slope[i] / k.unit
		key(place, motion.Knot{Value: fit.value[i], Shape: motion.Sloped, SlopeIn: slope, SlopeOut: slope, Marked: true})
	}
}

// away is how far the nearest moment is from a time, in frames.
func (k *rekeying) away(t float64) float64 {
	next, _ := slices.BinarySearch(k.at, t)
	least := math.Inf(1)
	for _, n := range []int{next - 1, next} {
		if n >= 0 && n < len(k.at) {
			least = math.Min(least, math.Abs(k.at[n]-t))
		}
	}
	if k.extent.Closed {
		least = math.Min(least, math.Min(k.at[0]+k.extent.Length-t, t+k.extent.Length-k.at[len(k.at)-1]))
	}
	return least
}

// A keyTable is where keys of a curve are written that have no place yet.
type keyTable struct {
	rows []grammar.Rat // the times of its rows in frames
	key  func(at grammar.Rat, column, text string)
}

// places are those of a raster at which the table has a row.
func (t keyTable) places(raster grammar.Rat) map[int]bool {
	out := map[int]bool{}
	for _, at := range t.rows {
		if place := at.Div(raster); place.IsWhole() {
			out[int(place.Float())] = true
		}
	}
	return out
}

// tableFor finds the table for new keys of a control in a layer: the sheet's own track, or in a variant an amend, or one
// to come. It is false where the table comes again at another time than the curve.
func (r *retake) tableFor(s *scribe, c *motion.Channel, strand *motion.Strand, layer string, period grammar.Rat) (keyTable, bool) {
	control := c.Dial.Control
	variant := r.motion.Sheet.From != nil
	for _, b := range r.file.Blocks {
		var name grammar.Name
		var in *grammar.Name
		own := r.motion.Sheet.Length
		switch opener := b.Opener.(type) {
		case *grammar.TrackLine:
			name, in = opener.Control, opener.Layer
			if opener.Every != nil {
				own = opener.Every.Time.In(r.motion.Sheet.Rate, r.motion.Sheet.Beat)
			}
		case *grammar.AmendLine:
			name, in = opener.Control, opener.Layer
			own = r.amendPeriod(control, layer)
		default:
			continue
		}
		if name.Key() != control || layerName(in) != layer || b.Header < 0 {
			continue
		}
		if own != period {
			return keyTable{}, false
		}
		var rows []grammar.Rat
		for line := range b.Rows() {
			rows = append(rows, s.rowTime(b, line))
		}
		return keyTable{rows, func(at grammar.Rat, column, text string) { s.key(b, at, column, text) }}, true
	}
	opener := "track " + control
	if variant && (layer == "" || strand != nil) {
		if r.amendPeriod(control, layer) != period {
			return keyTable{}, false
		}
		opener = "amend " + control
	}
	if layer != "" {
		opener += " in " + layer
	}
	if !variant && strand != nil && period != r.motion.Sheet.Length {
		opener += " every " + s.timeText(s.clock(), period)
	}
	return keyTable{nil, func(at grammar.Rat, column, text string) { s.track(opener, control).key(at, column, text) }}, true
}

// amendPeriod is the time after which an amend of a control comes again: that of the track which a variant inherits, or
// else that of the blocking, or the sheet's own.
func (r *retake) amendPeriod(control, layer string) grammar.Rat {
	period := r.motion.Sheet.Length
	for _, from := range []motion.Origin{motion.FromTrack, motion.FromBlocking} {
		if from == motion.FromBlocking && layer != "" {
			break
		}
		for i := range r.motion.Channels {
			c := &r.motion.Channels[i]
			if from == motion.FromTrack && c.Dial.Control != control {
				continue
			}
			for name, strand := range c.Strands() {
				for k := range strand.Keys {
					if key := &strand.Keys[k]; name == layer && key.From == from {
						if own, ok := r.inheritedPeriod(key.At); ok {
							return own
						}
					}
				}
			}
		}
	}
	return period
}

// inheritedPeriod is the time after which a row of one of the bases comes again in this sheet; false for a row of none.
func (r *retake) inheritedPeriod(at grammar.Ref) (grammar.Rat, bool) {
	s := r.motion.Sheet
	for base := r.motion.Base; base != nil; base = base.Base {
		if base.File.Path != at.Path() {
			continue
		}
		every := grammar.Time{}
		switch opener := at.Block.Opener.(type) {
		case *grammar.TrackLine:
			if opener.Every != nil {
				every = opener.Every.Time
			}
		case *grammar.BlockingLine:
			if opener.Every != nil {
				every = opener.Every.Time
			}
		default:
			return grammar.Rat{}, false
		}
		if !every.IsZero() {
			every.Frames = every.Frames.Mul(s.Rate).Div(base.Sheet.Rate)
			return every.In(s.Rate, s.Beat), true
		}
		// A round of the base: as long as in the base by the clock, or by the beat.
		for _, round := range []grammar.Rat{base.Sheet.Beats(base.Sheet.Length).Mul(s.Beat), base.Sheet.Seconds(base.Sheet.Length).Mul(s.Rate)} {
			if rounds := s.Length.Div(round); rounds.IsWhole() && rounds.Sign() > 0 {
				return round, true
			}
		}
		return s.Length, true
	}
	return grammar.Rat{}, false
}

func layerName(name *grammar.Name) string {
	if name == nil {
		return ""
	}
	return name.Key()
}

// writeKeys writes the cells that changed: each where it stands, or, where that belongs to somebody else or to a pose, as
// a key of its own at the same time.
func (r *retake) writeKeys(s *scribe, k *rekeying, c *motion.Channel, strand *motion.Strand, layer string, raster grammar.Rat, table keyTable) {
	done := map[int]bool{}
	for i, p := range k.pegs {
		cell := &k.cells[p.cell]
		if !cell.changed() || done[p.cell] || cell.gone && cell.fresh {
			continue
		}
		done[p.cell] = true
		if cell.fresh {
			at, text := grammar.Whole(int64(math.Round(p.time/k.unit))).Mul(raster), cell.text(k.beat, "")
			r.note(c.Index, layer, at, "", text)
			table.key(at, c.Dial.Name, text)
			continue
		}
		key := r.keyOf(k, strand, i)
		_, here := r.file.Locate(key.At)
		if here && key.From == motion.FromTrack && (key.At.Block.Kind == grammar.TrackBlock || key.At.Block.Kind == grammar.AmendBlock) {
			text := "."
			if !cell.gone {
				text = cell.text(k.beat, key.At.Text())
			}
			r.note(c.Index, layer, key.Time, key.At.Text(), text)
			column := slices.IndexFunc(key.At.Block.Lines[key.At.Line].Cells, func(cell grammar.Cell) bool { return cell.Span == key.At.Span })
			s.cell(key.At.Block, key.At.Line, column, text)
			continue
		}
		text := cell.text(k.beat, "")
		r.note(c.Index, layer, key.Time, "", text)
		table.key(key.Time, c.Dial.Name, text)
	}
}

// note remembers what stood and what stands in a cell.
func (r *retake) note(channel int, layer string, at grammar.Rat, old, text string) {
	place := writtenCell{channel, layer, at}
	if before, again := r.written[place]; again {
		old = before[0]
	}
	r.written[place] = [2]string{old, text}
}

// A writtenCell is a key that was written: of a channel, in a layer, at a time in frames.
type writtenCell struct {
	channel int
	layer   string
	at      grammar.Rat
}

// keyOf is the strand's key of a peg; new pegs lie between.
func (r *retake) keyOf(k *rekeying, strand *motion.Strand, peg int) *motion.Key {
	n := 0
	for i := range peg {
		if !k.cells[k.pegs[i].cell].fresh {
			n++
		}
	}
	return &strand.Keys[n]
}

// text is the cell: the number, and the mark that stood there or that its shape asks for now.
func (c *pegCell) text(beat float64, old string) string {
	value := number(c.Value, 7)
	if i := strings.IndexAny(old, "~^>=@"); !c.fresh && c.Shape == c.first.Shape && (c.Shape != motion.Sloped || c.SlopeIn == c.first.SlopeIn && c.SlopeOut == c.first.SlopeOut) && old != "" {
		if i < 0 {
			return value
		}
		return value + old[i:]
	}
	switch c.Shape {
	case motion.Rest:
		return value + "^"
	case motion.Straight:
		return value + ">"
	case motion.Stay:
		return value + "="
	case motion.Sloped:
		in, out := number(c.SlopeIn*beat, 7), number(c.SlopeOut*beat, 7)
		if in == out {
			return value + "@" + out
		}
		return value + "@" + in + "," + out
	}
	return value
}
