package motion

import (
	"slices"
	"strings"

	"github.com/motet-sheet/motet/grammar"
)

// mirror swaps left and right, of everything or of the controls that a pattern names, about rest.
func (c *changer) mirror(line *grammar.MirrorLine) {
	s := &sides{changer: c, in: map[string]bool{}}
	rig := c.Motion.Rig
	controls := rig.Controls()
	if line.Of != nil {
		controls = c.controlsOf(*line.Of, c.ref(line.Of.At))
	}
	for _, control := range controls {
		s.in[control] = true
	}
	for _, control := range controls {
		if other := rig.Mirrored(control); !s.in[other] {
			c.add(ruleUnknownName, c.ref(line.Of.At), "`%s` fits `%s` but not `%s`, the other one of the pair; mirror both", line.Of.Text, control, other)
			return
		}
	}
	s.tracks()
	s.blocking()
	for _, rows := range [][]lateRow{c.material.late, c.material.delays} {
		for i := range rows {
			for k := range rows[i].controls {
				rows[i].controls[k] = s.control(rows[i].controls[k])
			}
		}
	}
	s.generated()
	advance := map[string]float64{}
	for path, gain := range c.Sheet.Advance {
		if i := rig.DialIndex(path); i >= 0 {
			gain *= s.sign(i)
			path = rig.Channels[s.channel(i)].Path
		}
		advance[path] = gain
	}
	c.Sheet.Advance = advance
}

// sides knows which controls change sides.
type sides struct {
	*changer
	in map[string]bool
}

func (s *sides) control(control string) string {
	if !s.in[control] {
		return control
	}
	return s.Motion.Rig.Mirrored(control)
}

// channel is the channel that takes over what this one did. One that the other side lacks keeps its own.
func (s *sides) channel(i int) int {
	dial := &s.Motion.Rig.Channels[i]
	if other := s.Motion.Rig.DialIndex(s.control(dial.Control) + "/" + dial.Name); other >= 0 {
		return other
	}
	return i
}

// sign is -1 for a channel whose sign flips on the other side.
func (s *sides) sign(i int) float64 {
	if dial := &s.Motion.Rig.Channels[i]; dial.Flips && s.in[dial.Control] {
		return -1
	}
	return 1
}

// about mirrors a value of a channel about rest.
func (s *sides) about(i int, value float64) float64 {
	from, to := s.Motion.Rig.Channels[i].Rest, s.Motion.Rig.Channels[s.channel(i)].Rest
	return to + s.sign(i)*(value-from)
}

func (s *sides) tracks() {
	for _, t := range s.material.tracks {
		layer := s.layer(t.layer)
		t.control = s.control(t.control)
		s.columns(t.columns, layer != nil && !layer.Replaces)
	}
}

func (s *sides) columns(columns []*columnPart, departures bool) {
	for _, column := range columns {
		i := column.channel
		column.channel = s.channel(i)
		if !s.in[s.Motion.Rig.Channels[i].Control] {
			continue
		}
		for k := range column.keys {
			key := &column.keys[k]
			key.In, key.Out = s.sign(i)*key.In, s.sign(i)*key.Out
			if departures {
				key.Value *= s.sign(i)
			} else {
				key.Value = s.about(i, key.Value)
			}
			key.Changes = s.step(key.Changes, key.Value)
		}
	}
}

func (s *sides) blocking() {
	b := s.material.blocking
	if b == nil {
		return
	}
	s.columns(b.frozen, false)
	for i := range b.rows {
		for k := range b.rows[i].values {
			v := &b.rows[i].values[k]
			if s.in[s.Motion.Rig.Channels[v.channel].Control] {
				v.value = s.about(v.channel, v.value)
				v.changes = s.step(v.changes, v.value)
			}
			v.channel = s.channel(v.channel)
		}
	}
	b.complete(s.resolver)
}

// generated mirrors what is made by rule. A gain's sign is the product of its two sides' flips.
func (s *sides) generated() {
	for _, f := range s.material.follows {
		f.control, f.leader = s.control(f.control), s.control(f.leader)
		for i := range f.gains {
			g := &f.gains[i]
			g.gain *= s.sign(g.channel) * s.sign(g.leader)
			g.channel, g.leader = s.channel(g.channel), s.channel(g.leader)
		}
	}
	for _, q := range s.material.quivers {
		s.amounts(q.amounts)
	}
	for _, b := range s.material.breaths {
		s.amounts(b.amounts)
	}
	for _, p := range s.material.plants {
		if s.in[p.goal] || len(s.in) == len(s.Motion.Rig.Controls()) {
			p.goal, p.on = s.otherName(p.goal), s.otherName(p.on)
		}
	}
}

func (s *sides) amounts(amounts []amountPart) {
	for i := range amounts {
		a := &amounts[i]
		a.amount *= s.sign(a.channel)
		a.channel = s.channel(a.channel)
	}
}

// otherName is the goal or joint on the other side, or the name itself where there is none.
func (s *sides) otherName(name string) string {
	other := s.Motion.Rig.Mirrored(name)
	if other == name {
		if stem, ok := strings.CutSuffix(name, ".left"); ok {
			other = stem + ".right"
		} else if stem, ok := strings.CutSuffix(name, ".right"); ok {
			other = stem + ".left"
		}
	}
	if s.plantTarget(other) < 0 || slices.Contains([]string{"", name}, other) {
		return name
	}
	return other
}
