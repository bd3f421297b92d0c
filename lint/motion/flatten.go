package motion

import (
	"fmt"
	"math"
	"path"
	"slices"
	"strconv"
	"strings"

	"github.com/motet-sheet/motet/grammar"
)

// Flatten writes a motion out as a sheet that stands alone: nothing is inherited, and the motion is the same. The rig
// stays in its own file. It fails where one row would need two easings, which no table can say.
func Flatten(m *Motion) (string, error) {
	if !m.Whole() {
		return "", fmt.Errorf("%s has no motion to write out; see what `motet check` says about it", m.File.Path)
	}
	w := &flattener{m: m}
	w.header()
	w.layers()
	w.blocking()
	w.overlap()
	w.tracks()
	w.follows()
	w.waves()
	w.plants()
	if w.err != nil {
		return "", w.err
	}
	return grammar.Format(grammar.Parse(m.File.Path, w.String())), nil
}

type flattener struct {
	strings.Builder
	m   *Motion
	err error
}

func (w *flattener) line(format string, args ...any) { fmt.Fprintf(w, format+"\n", args...) }

func (w *flattener) header() {
	s := w.m.Sheet
	w.line("sheet %s", s.Name)
	if w.m.Rig.File == w.m.File {
		w.line("  rig %s", w.m.Rig.Name)
	} else {
		w.line("  rig %s in %q", w.m.Rig.Name, relativePath(w.m.File.Path, w.m.Rig.File.Path))
	}
	w.line("  rate %s fps", s.Rate)
	tempo := grammar.Whole(60).Mul(s.Rate).Div(s.Beat)
	if text := (grammar.Time{Seconds: tempo}).String(); !strings.Contains(text, "/") {
		w.line("  tempo %s bpm", strings.TrimSuffix(text, "s"))
	} else {
		w.line("  beat %s", grammar.Time{Frames: s.Beat})
	}
	word := "span"
	if s.Closed {
		word = "cycle"
	}
	w.line("  %s %s", word, w.time(s.Length))
	w.line("  grid %s", w.time(s.Grid))
	w.line("  view %s", s.View)
	if !s.Phase.IsZero() {
		w.line("  phase %s", w.time(s.Phase))
	}
	var paths []string
	for path := range s.Advance {
		paths = append(paths, path)
	}
	slices.Sort(paths)
	for _, path := range paths {
		w.line("  advance %s %s", path, decimal(s.Advance[path]))
	}
}

// relativePath is how one file of a project names another.
func relativePath(from, to string) string {
	folder := path.Dir(from)
	up := ""
	for folder != "." && !strings.HasPrefix(to, folder+"/") {
		folder = path.Dir(folder)
		up += "../"
	}
	if folder != "." {
		to = strings.TrimPrefix(to, folder+"/")
	}
	return up + to
}

// time writes frames in beats where that reads well, and in frames otherwise; both are exact.
func (w *flattener) time(frames grammar.Rat) string {
	if frames.IsZero() {
		return "0b"
	}
	if beats := w.m.Sheet.Beats(frames); beats.OK() && (beats.Den() <= 4 || !frames.IsWhole()) {
		return grammar.Time{Beats: beats}.String()
	}
	return grammar.Time{Frames: frames}.String()
}

// decimal writes a number to within half of 1e-9, so that what arithmetic leaves in the last digits is not written.
func decimal(v float64) string {
	const places = 1e9
	if rounded := math.Round(v*places) / places; math.Abs(rounded-v) <= 1/places {
		v = rounded
	}
	return strconv.FormatFloat(v+0, 'f', -1, 64)
}

func (w *flattener) every(r repeat) string {
	if r.every == nil || r.period == w.m.Sheet.Length {
		return ""
	}
	return " every " + w.time(r.period)
}

func in(layer string) string {
	if layer == "" {
		return ""
	}
	return " in " + layer
}

func (w *flattener) layers() {
	for _, l := range w.m.Layers {
		w.line("\nlayer %s", l.Name)
		if l.Replaces {
			w.line("  replaces")
		}
		if l.Strength != 1 {
			w.line("  strength %s%%", decimal(l.Strength*100))
		}
	}
}

// blocking writes each row's values as a pose of its own; rows with equal values share one.
func (w *flattener) blocking() {
	b := w.m.material.blocking
	if b == nil || b.frozen != nil || len(b.rows) == 0 {
		return
	}
	names := make([]string, len(b.rows))
	taken := map[string]int{}
	for i := range b.rows {
		names[i] = w.pose(b, i, names[:i], taken)
	}
	w.line("\nblocking%s", w.every(b.repeat))
	w.line("  at pose until drift ease")
	for i := range b.rows {
		row := &b.rows[i]
		until, drift := ".", "."
		if row.held {
			until = w.time(row.until)
			if row.drift != 0 {
				drift = decimal(row.drift*100) + "%"
			}
		}
		w.line("  %s %s %s %s %s", w.time(row.time), names[i], until, drift, easeText(row.ease))
	}
}

func easeText(e *Ease) string {
	if e == nil {
		return "."
	}
	return strings.Join([]string{decimal(e.X1), decimal(e.Y1), decimal(e.X2), decimal(e.Y2)}, ",")
}

func (w *flattener) pose(b *blockingPart, i int, before []string, taken map[string]int) string {
	same := func(x, y rowValue) bool { return x.channel == y.channel && x.value == y.value }
	for k, name := range before {
		if slices.EqualFunc(b.rows[k].values, b.rows[i].values, same) {
			return name
		}
	}
	name := b.rows[i].pose
	taken[name]++
	if n := taken[name]; n > 1 {
		name += "-" + strconv.Itoa(n)
	}
	w.line("\npose %s", name)
	for _, v := range b.rows[i].values {
		w.line("  %s %s", w.m.Rig.Channels[v.channel].Path, decimal(v.value))
	}
	return name
}

func (w *flattener) overlap() {
	opened := false
	for _, control := range w.m.Rig.Controls() {
		late, _ := w.m.material.lateness(control)
		if late.IsZero() {
			continue
		}
		if !opened {
			w.line("\noverlap")
			opened = true
		}
		w.line("  %s %s", control, w.time(late))
	}
}

// tracks writes the tracks. A blocking that a change has made into keys joins its controls' tracks.
func (w *flattener) tracks() {
	tracks := w.m.material.tracks
	if b := w.m.material.blocking; b != nil && b.frozen != nil {
		tracks = w.withFrozen(tracks, b)
	}
	for _, t := range tracks {
		if len(t.columns) > 0 {
			w.track(t)
		}
	}
}

func (w *flattener) withFrozen(tracks []*trackPart, b *blockingPart) []*trackPart {
	m := &material{}
	for _, t := range tracks {
		c := *t
		c.columns = copyColumns(t.columns)
		m.tracks = append(m.tracks, &c)
	}
	for _, column := range b.frozen {
		control := w.m.Rig.Channels[column.channel].Control
		t := m.track(trackIdentity{control: control})
		if t == nil {
			t = &trackPart{repeat: b.repeat, control: control}
			m.tracks = append(m.tracks, t)
		}
		keys := column.keys
		if t.period != b.period {
			t.unroll(w.m.Sheet.Length)
			keys = unrolled(keys, b.period, t.period)
		}
		if own := t.column(column.channel); own != nil {
			own.keys = mergeSources(append(slices.Clone(keys), own.keys...))
			continue
		}
		t.columns = append(t.columns, &columnPart{column.channel, keys})
	}
	return m.tracks
}

// unroll writes a repeated track out over the whole length.
func (t *trackPart) unroll(length grammar.Rat) {
	for _, c := range t.columns {
		c.keys = unrolled(c.keys, t.period, length)
	}
	t.repeat = repeat{period: length}
}

func (w *flattener) track(t *trackPart) {
	names := make([]string, len(t.columns))
	times := map[grammar.Rat]bool{}
	var rows []grammar.Rat
	eased := false
	for i, c := range t.columns {
		names[i] = w.m.Rig.Channels[c.channel].Name
		for _, k := range c.keys {
			eased = eased || k.Ease != nil
			if !times[k.Time] {
				times[k.Time] = true
				rows = append(rows, k.Time)
			}
		}
	}
	if len(rows) == 0 {
		return
	}
	slices.SortFunc(rows, grammar.Rat.Cmp)
	w.line("\ntrack %s%s%s", t.control, in(t.layer), w.every(t.repeat))
	head := "  at " + strings.Join(names, " ")
	if eased {
		head += " ease"
	}
	w.line("%s", head)
	for _, time := range rows {
		w.line("%s", w.row(t, time, eased))
	}
}

func (w *flattener) row(t *trackPart, time grammar.Rat, eased bool) string {
	out := "  " + w.time(time)
	var ease *Ease
	set := false
	for _, c := range t.columns {
		k := c.keyAt(time)
		if k == nil {
			out += " ."
			continue
		}
		out += " " + w.cell(k)
		if set && !sameEase(ease, k.Ease) {
			w.err = fmt.Errorf("the track of %s would need two easings in the row at frame %s, which one table cannot say", t.control, time)
		}
		ease, set = k.Ease, true
	}
	if eased {
		out += " " + easeText(ease)
	}
	return out
}

func sameEase(a, b *Ease) bool { return a == b || a != nil && b != nil && *a == *b }

func (c *columnPart) keyAt(time grammar.Rat) *Key {
	at, ok := slices.BinarySearchFunc(c.keys, time, func(k Key, t grammar.Rat) int { return k.Time.Cmp(t) })
	if !ok {
		return nil
	}
	return &c.keys[at]
}

func (w *flattener) cell(k *Key) string {
	out := decimal(k.Value)
	switch k.Shape {
	case Rest:
		out += "^"
	case Straight:
		out += ">"
	case Stay:
		out += "="
	case Sloped:
		beat := w.m.Sheet.Beat.Float()
		out += "@" + decimal(k.In*beat)
		if k.In != k.Out {
			out += "," + decimal(k.Out*beat)
		}
	default:
		if k.Marked {
			out += "~"
		}
	}
	return out
}

func (w *flattener) follows() {
	for _, f := range w.m.material.follows {
		if len(f.gains) == 0 {
			continue
		}
		w.line("\nfollow %s after %s", f.control, f.leader)
		if !f.lag.IsZero() {
			w.line("  lag %s", w.time(f.lag))
		}
		if s := f.spring; s != nil && s.arrives != nil {
			w.line("  spring arrives %s overshoot %s%%", w.time(s.arrives.In(w.m.Sheet.Rate, w.m.Sheet.Beat)), decimal(s.overshoot*100))
		} else if s != nil {
			w.line("  spring %s Hz damping %s", decimal(s.hertz), decimal(s.damping))
		}
		for _, g := range f.gains {
			w.line("  %s %s of %s", w.m.Rig.Channels[g.channel].Name, decimal(g.gain), w.m.Rig.Channels[g.leader].Name)
		}
	}
}

func (w *flattener) waves() {
	for _, q := range w.m.material.quivers {
		w.line("\nquiver %s%s%s", q.name, in(q.layer), w.every(q.repeat))
		w.line("  band %s..%s Hz", decimal(q.band[0]), decimal(q.band[1]))
		w.line("  seed %d", q.seed)
		w.amounts(q.amounts)
	}
	for _, b := range w.m.material.breaths {
		w.line("\nbreath %s%s%s", b.name, in(b.layer), w.every(b.repeat))
		w.line("  count %d", b.count)
		w.line("  inhale %s%%", decimal(b.inhale*100))
		if b.pause != 0 {
			w.line("  pause %s%%", decimal(b.pause*100))
		}
		if !b.starts.IsZero() {
			w.line("  starts %s", w.time(b.starts))
		}
		w.amounts(b.amounts)
	}
}

func (w *flattener) amounts(amounts []amountPart) {
	for _, a := range amounts {
		w.line("  %s %s", w.m.Rig.Channels[a.channel].Path, decimal(a.amount))
	}
}

func (w *flattener) plants() {
	opened := false
	for _, p := range w.m.material.plants {
		if !opened {
			w.line("\nplant")
			opened = true
		}
		on := ""
		if p.on != "" {
			on = " on " + p.on
		}
		s := w.m.Sheet
		from, to := p.from.In(s.Rate, s.Beat), p.to.In(s.Rate, s.Beat)
		if s.Closed {
			first := from.Mod(s.Length) // a turned cycle may have moved it before the start
			from, to = first, to.Add(first.Sub(from))
		}
		w.line("  %s %s..%s%s", p.goal, w.time(from), w.time(to), on)
	}
}
