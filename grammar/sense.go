package grammar

import (
	"fmt"
	"strings"
)

// Whether the values of a line make sense by themselves. What needs the rest of the sheet is the rules' business.

func (l *RateLine) check(string) *Fault {
	unit := l.Rate.Unit()
	amount, ok := l.Rate.Amount()
	switch {
	case unit != "fps" && unit != "":
		return wrongUnit(&l.Rate, "a rate", "fps")
	case unit == "":
		return noUnit(l.Rate.At, l.Rate.Number, "fps")
	case !ok || !amount.OK():
		return inexact(&l.Rate)
	case amount.Sign() <= 0:
		return &Fault{Span: l.Rate.Where(), Message: "the rate must be above 0; write, say, `24 fps`"}
	case !amount.IsWhole() && !strings.Contains(l.Rate.Glued+l.Rate.Number, "/"):
		if _, named := namedRates[trimUnit(l.Rate)]; !named {
			return &Fault{Span: l.Rate.Where(), Message: fmt.Sprintf("%s is not an exact rate; write a whole number, a fraction such as `24000/1001 fps`, or one of 23.976, 29.97 and 59.94, which mean those fractions", quote(trimUnit(l.Rate)))}
		}
	}
	return nil
}

// namedRates are the short spellings of the television rates, n·1000/1001 exactly (SMPTE ST 12-1; from memory).
var namedRates = map[string]Rat{
	"23.976": NewRat(24000, 1001),
	"29.97":  NewRat(30000, 1001),
	"59.94":  NewRat(60000, 1001),
}

func trimUnit(m Measure) string { number, _ := m.split(); return number }

// Exact is the rate in frames a second.
func (l *RateLine) Exact() Rat {
	if r, ok := namedRates[trimUnit(l.Rate)]; ok {
		return r
	}
	r, _ := l.Rate.Amount()
	return r
}

func (l *TempoLine) check(string) *Fault {
	amount, ok := l.Tempo.Amount()
	switch unit := l.Tempo.Unit(); {
	case unit != "bpm" && unit != "":
		return wrongUnit(&l.Tempo, "a tempo", "bpm")
	case unit == "":
		return noUnit(l.Tempo.At, l.Tempo.Number, "bpm")
	case !ok || !amount.OK():
		return inexact(&l.Tempo)
	case amount.Sign() <= 0:
		return &Fault{Span: l.Tempo.Where(), Message: "the tempo must be above 0; write, say, `80 bpm`"}
	}
	return nil
}

// Exact is the tempo in beats a minute.
func (l *TempoLine) Exact() Rat { r, _ := l.Tempo.Amount(); return r }

func (l *BeatLine) check(line string) *Fault {
	if !l.Beat.Time.Beats.IsZero() {
		return &Fault{Span: l.Beat.Where(), Message: "a beat cannot be measured in beats; write it in frames or seconds, such as `18f`"}
	}
	return above0(&l.Beat, "the beat", "18f", line)
}

func (l *CycleLine) check(line string) *Fault { return above0(&l.Length, "the cycle", "4b", line) }

func (l *SpanLine) check(line string) *Fault { return above0(&l.Length, "the span", "48f", line) }

func (l *GridLine) check(line string) *Fault { return above0(&l.Grid, "the grid", "1/2b", line) }

func (l *BlockingLine) check(line string) *Fault { return checkEvery(l.Every, line) }

func (l *TrackLine) check(line string) *Fault { return checkEvery(l.Every, line) }

func (l *QuiverLine) check(line string) *Fault { return checkEvery(l.Every, line) }

func (l *BreathLine) check(line string) *Fault { return checkEvery(l.Every, line) }

func checkEvery(m *Moment, line string) *Fault {
	if m == nil {
		return nil
	}
	return above0(m, "a period", "1b", line)
}

// above0 refuses a length that is 0 or negative at any rate and tempo; a difference of units is judged when both are
// known.
func above0(m *Moment, what, example, line string) *Fault {
	t := m.Time
	if t.Frames.Sign() > 0 || t.Beats.Sign() > 0 || t.Seconds.Sign() > 0 {
		return nil
	}
	return &Fault{Span: m.Where(), Message: fmt.Sprintf("%s is %s, but must be above 0; write, say, %s", what, quote(line[m.Pos.Offset:m.EndPos.Offset]), quote(example))}
}

func inexact(m *Measure) *Fault {
	number, _ := m.split()
	return &Fault{Span: m.Where(), Message: quoteShort(number) + " has too many digits to be kept exactly, or divides by 0"}
}

// wrongUnit is a quantity with a unit that does not fit; one that is no unit at all is most likely misspelt.
func wrongUnit(m *Measure, what, want string) *Fault {
	number, unit := m.split()
	fault := &Fault{Span: m.Where(), Message: fmt.Sprintf("%s is not the unit of %s", quote(unit), what)}
	if isUnit(unit) {
		fault.Message += "; write, say, " + quote(number+withSpace(want))
		return fault
	}
	fault.offer(m.Where(), number+withSpace(want))
	return fault
}

func noUnit(at At, number, want string) *Fault {
	fault := &Fault{Span: at.Where(), Message: fmt.Sprintf("%s has no unit", quote(number))}
	fault.offer(at.Where(), number+" "+want)
	return fault
}

func (l *HeightLine) check(string) *Fault {
	switch unit := l.Height.Unit(); {
	case unit != "" && unit != "cm":
		return wrongUnit(&l.Height, "a height", "cm")
	case l.Height.Float() <= 0:
		return &Fault{Span: l.Height.Where(), Message: "the height must be above 0 cm"}
	}
	return nil
}

func (l *BreathesLine) check(string) *Fault {
	from, to, unit, ok := l.Rate.Numbers()
	if !ok || unit != "" || from < 0 || to < from {
		return &Fault{Span: l.Rate.Where(), Message: "the breaths a minute are a range of numbers, the smaller first, such as `12..20`"}
	}
	return nil
}

func (e *EaseEntry) check(string) *Fault {
	p := e.Curve.Points()
	return checkEase(p, e.Curve.Where())
}

func checkEase(p [4]float64, span Span) *Fault {
	if p[0] < 0 || p[0] > 1 || p[2] < 0 || p[2] > 1 {
		return &Fault{Span: span, Message: "the first and third number of an easing are times and must lie from 0 to 1 (W3C CSS Easing Functions); the second and fourth may go beyond"}
	}
	return nil
}

func (l *SpringLine) check(line string) *Fault {
	if l.Arrives != nil {
		if o := l.Overshoot.Decimal.Value; o < 0 || o >= 100 {
			return &Fault{Span: l.Overshoot.Where(), Message: "the overshoot must lie from 0% to under 100%"}
		}
		return above0(l.Arrives, "the arrival", "5f", line)
	}
	switch unit := l.Frequency.Unit(); {
	case unit == "":
		return noUnit(l.Frequency.At, l.Frequency.Number, "Hz")
	case unit != "Hz":
		return wrongUnit(l.Frequency, "a spring's frequency", "Hz")
	case l.Frequency.Float() <= 0:
		return &Fault{Span: l.Frequency.Where(), Message: "the frequency must be above 0 Hz"}
	case l.Damping.Decimal.Value <= 0:
		return &Fault{Span: l.Damping.Where(), Message: "the damping must be above 0; 1 just does not overshoot"}
	}
	return nil
}

func (e *LayerEntry) check(string) *Fault {
	if e.Strength == nil {
		return nil
	}
	if s := e.Strength.Decimal.Value; s < 0 || s > 100 {
		return &Fault{Span: e.Strength.Where(), Message: "the strength must lie from 0% to 100%"}
	}
	return nil
}

func (l *BandLine) check(string) *Fault {
	from, to, unit, ok := l.Band.Numbers()
	if ok && unit == "" {
		return noUnit(l.Band.At, l.Band.Text, "Hz")
	}
	if !ok || unit != "Hz" || from < 0 || to < from {
		return &Fault{Span: l.Band.Where(), Message: "the band is a range of frequencies, the lower first, such as `0.6..2.5 Hz`"}
	}
	return nil
}

func (l *SeedLine) check(string) *Fault { return wholeNumber(&l.Seed, "the seed", 0) }

func (l *ReseedLine) check(string) *Fault { return wholeNumber(&l.Seed, "the seed", 0) }

func (l *CountLine) check(string) *Fault { return wholeNumber(&l.Count, "the count of breaths", 1) }

func wholeNumber(f *Figure, what string, least float64) *Fault {
	v := f.Decimal.Value
	if v < least || v > 1<<53 || v != float64(int64(v)) {
		return &Fault{Span: f.Where(), Message: fmt.Sprintf("%s is %s, but must be a whole number from %g", what, quote(f.Decimal.Text), least)}
	}
	return nil
}

func (l *InhaleLine) check(string) *Fault { return partOfBreath(&l.Inhale, "the in-breath") }

func (l *PauseLine) check(string) *Fault { return partOfBreath(&l.Pause, "the pause") }

func partOfBreath(s *Share, what string) *Fault {
	if v := s.Decimal.Value; v < 0 || v >= 100 {
		return &Fault{Span: s.Where(), Message: fmt.Sprintf("%s is a share of a breath and must lie from 0%% to under 100%%", what)}
	}
	return nil
}

func (e *PlantEntry) check(string) *Fault {
	if _, _, ok := e.When.Times(); !ok {
		return &Fault{Span: e.When.Where(), Message: quote(e.When.Text) + " is not a range of times, which have units, such as `0b..4b`"}
	}
	return nil
}

func (l *WithoutLine) check(line string) *Fault {
	named := map[string]bool{"quiver": true, "breath": true, "track": true, "follow": true, "layer": true}[l.Kind]
	switch {
	case named && l.Of == nil:
		return &Fault{Span: l.Where(), Message: fmt.Sprintf("which %s to leave out is not said; write, say, `without %s NAME`", l.Kind, l.Kind)}
	case l.Layer != nil && l.Kind != "track":
		return &Fault{Span: l.Layer.Where(), Message: "only a track is left out `in` a layer"}
	case l.After != nil && l.Kind != "follow":
		return &Fault{Span: l.After.Where(), Message: "only a follow is left out `after` a leader"}
	}
	return nil
}
