package lint

import (
	"math"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

func breathRate() *Rule {
	return &Rule{
		Name: "breath-rate", Group: MotionGroup, Level: Note,
		Doc: Doc{
			Reports: "A breath faster or slower than the figure breathes at rest.",
			Why:     "Breath is the first thing by which an idle looks alive, and its pace says how the person feels: above 20 a minute they have run or are afraid, below 12 they sleep.",
			Decides: "60 ÷ the seconds of one breath, of each `breath`. A resting adult breathes 12 to 20 times a minute (StatPearls, Vital Sign Assessment; from memory); the rig's `breathes` line says otherwise for children, whales and bellows. In a variant the report stands at its own tempo or length, and only where its base keeps to the rate or breathes at another.",
			Allow:   "When the person is out of breath, or asleep.",
			Mends:   "Writes the number of breaths that comes nearest to the middle of the range.",
			Bad:     "breath calm\n  count             2\n  spine/lean        1\n",
			Good:    "breath calm\n  count             1\n  spine/lean        1\n",
		},
		Check: checkBreathRate,
	}
}

func checkBreathRate(p *Pass) {
	if !p.certain() {
		return
	}
	told := map[string]bool{}
	for i := range p.Motion.Channels {
		for wave := range p.Motion.Channels[i].EveryWave() {
			if wave.Breath == nil || told[wave.Name] {
				continue
			}
			told[wave.Name] = true
			p.breathes(wave)
		}
	}
}

func (p *Pass) breathes(wave *motion.Wave) {
	s, usual := p.Motion.Sheet, p.Motion.Rig.Breathes
	rate := 60 * s.Rate.Float() / wave.Breath.Frames()
	if rate >= usual[0]-1e-6 && rate <= usual[1]+1e-6 {
		return
	}
	at, own := p.breathLine(wave)
	if !own && p.breathesAsBefore(wave, rate) {
		return
	}
	slow := "faster"
	if rate < usual[0] {
		slow = "slower"
	}
	finding := p.Report(at, "%s is %s breaths a minute, %s than the %s to %s of %s at rest; change its count or the length of the cycle", wave.Name, number(rounded(rate, 1)), slow, number(usual[0]), number(usual[1]), p.Motion.Rig.Name)
	if own {
		p.countAnew(finding, wave, rate)
	}
}

// breathLine is where a breath's pace is written: its count, or the line that opens it; of one that is inherited, what
// the sheet itself says of tempo and length.
func (p *Pass) breathLine(wave *motion.Wave) (at grammar.Ref, own bool) {
	b := wave.At.Block
	if wave.At.Path() == p.Motion.File.Path && b.Kind == grammar.BreathBlock {
		for i, stmt := range b.Entries() {
			if _, ok := stmt.(*grammar.CountLine); ok {
				return b.RefLine(i), true
			}
		}
		return b.RefLine(b.Open), true
	}
	for _, word := range []string{"tempo", "beat", "cycle", "span"} {
		if at, ok := p.Motion.Sheet.Lines[word]; ok && at.Path() == p.Motion.File.Path {
			return at, false
		}
	}
	return p.Motion.Sheet.At("from"), false
}

// breathesAsBefore tells whether the base breathes at the same pace, too fast or too slow for its own rig already.
func (p *Pass) breathesAsBefore(wave *motion.Wave, rate float64) bool {
	base := p.Motion.Base
	if base == nil || !base.Whole() {
		return false
	}
	for i := range base.Channels {
		for before := range base.Channels[i].EveryWave() {
			if before.Breath == nil || before.Name != wave.Name {
				continue
			}
			was := 60 * base.Sheet.Rate.Float() / before.Breath.Frames()
			return math.Abs(was-rate) < 1e-6 && (was < base.Rig.Breathes[0] || was > base.Rig.Breathes[1])
		}
	}
	return false
}

// countAnew offers the count of breaths that comes nearest to the middle of the range, if one is inside.
func (p *Pass) countAnew(finding *Finding, wave *motion.Wave, rate float64) {
	b, usual := wave.At.Block, p.Motion.Rig.Breathes
	for i, stmt := range b.Entries() {
		line, ok := stmt.(*grammar.CountLine)
		if !ok {
			continue
		}
		count := line.Count.Decimal.Value
		better := max(1, math.Round(count*(usual[0]+usual[1])/2/rate))
		if now := rate * better / count; now < usual[0] || now > usual[1] {
			return
		}
		cell := b.Ref(i, line.Count.Where())
		finding.Mends = []motion.Mend{{Title: "breathe " + plural(int(better), "time") + " instead", Edits: []motion.Edit{writeCell(b, i, cell.Span, number(better))}}}
	}
}
