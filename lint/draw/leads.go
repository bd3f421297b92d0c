package draw

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/motet-sheet/motet/lint/motion"
)

// Lead is how much later than the leader a control moves.
type Lead struct {
	Control     string
	LagFrames   float64 // below 0 it moves first
	Correlation float64 // 0 to 1: how well it moves as the leader does
	Channel     string  // the channel that tells so
	LeaderBy    string  // the leader's channel that it is compared with
}

const (
	// Two movements must be this much alike for one to lead the other: half of what one does is in the other.
	clearLead = 0.7
	// What comes later than this is no overlap but an action of its own (common practice).
	mostLeadSeconds = 0.5
)

// Leads tells who leads whom: how much later than the leader each control moves, the earliest first. Every channel of a
// control is compared with every one of the leader's, at the lag of at most half a second, and of a quarter of the round,
// at which they are most alike or most opposite; the pair that is most alike speaks for the control. Controls that follow nothing clearly are
// left out. It is empty where the motion is no cycle, or the leader does not move.
func Leads(m *motion.Motion, leader string) []Lead {
	if !m.Whole() || !m.Sheet.Closed {
		return nil
	}
	s := m.SampledByBeat(24)
	c := motion.NewCorrelator(s.Count)
	mostLag := min(float64(s.Count)/4, mostLeadSeconds*m.Sheet.Rate.Float()/s.Step)
	spectra := map[int]bothWays{}
	of := func(control string) []int {
		return slices.DeleteFunc(slices.Clone(m.Rig.ControlChannels(control)), func(channel int) bool {
			if _, known := spectra[channel]; !known {
				spectra[channel] = spectraOf(c, s.Channel(channel))
			}
			return !m.Channels[channel].Moves() || spectra[channel].as.MeanSquare() == 0
		})
	}
	leaders := of(leader)
	var out []Lead
	for _, control := range m.Rig.Controls() {
		best := Lead{Control: control}
		for _, channel := range of(control) {
			for _, by := range leaders {
				if match, ok := bestNear(c, spectra[by].as, spectra[channel], mostLag); ok && match.Correlation > best.Correlation {
					best.LagFrames, best.Correlation = match.Lag*s.Step, match.Correlation
					best.Channel, best.LeaderBy = m.Rig.Channels[channel].Path, m.Rig.Channels[by].Path
				}
			}
		}
		if control == leader {
			best = Lead{Control: control, Correlation: 1}
		}
		if best.Correlation >= clearLead && (control != leader || len(leaders) > 0) {
			out = append(out, best)
		}
	}
	if len(leaders) == 0 {
		return nil
	}
	slices.SortStableFunc(out, func(a, b Lead) int {
		switch {
		case a.LagFrames < b.LagFrames-1e-6:
			return -1
		case a.LagFrames > b.LagFrames+1e-6:
			return 1
		}
		return 0
	})
	return out
}

// bothWays is a signal as it is and upside down.
type bothWays struct{ as, opposite *motion.Spectrum }

func spectraOf(c *motion.Correlator, signal motion.Signal) bothWays {
	down := motion.Signal{Samples: make([]float64, len(signal.Samples)), Closed: signal.Closed, Gain: -signal.Gain}
	for i, v := range signal.Samples {
		down.Samples[i] = -v
	}
	return bothWays{c.Spectrum(signal), c.Spectrum(down)}
}

// bestNear is the lag, of at most so many samples, at which two signals are most alike or most opposite.
func bestNear(c *motion.Correlator, leader *motion.Spectrum, follower bothWays, most float64) (best motion.Match, ok bool) {
	for _, spectrum := range []*motion.Spectrum{follower.as, follower.opposite} {
		match := c.BestLag(leader, spectrum)
		if math.Abs(match.Lag) <= most && match.Correlation > best.Correlation+1e-9 {
			best, ok = match, true
		}
	}
	return best, ok
}

// LeadChart draws who leads whom: time runs down, and each control hangs as far below the leader as it moves later.
func LeadChart(m *motion.Motion, leader string) *Picture {
	leads := Leads(m, leader)
	p := &Picture{Title: fmt.Sprintf("%s: how many frames after %s each control moves", m.Sheet.Name, leader), Width: 320, Height: 70}
	p.heading(p.Title, Point{14, 18}, 11, Strong, Start)
	if len(leads) < 2 {
		p.words("nothing moves clearly as "+leader+" does", Point{14, 40}, 10, Soft, Start)
		p.Width = max(p.Width, widthOf(p.Title, 11)+28)
		return p
	}
	first, last := math.Floor(leads[0].LagFrames), math.Ceil(leads[len(leads)-1].LagFrames)
	const left, top, column = 58.0, 44.0, 76.0
	frame := min(max(260/max(last-first, 1), 6), 26)
	y := func(frames float64) float64 { return top + 32 + (frames-first)*frame }
	p.Width = max(left+column*float64(len(leads))+14, widthOf(p.Title, 11)+28)
	every := math.Ceil(12 / frame)
	for f := first; f <= last; f++ {
		p.line(Rule, 0.5, Point{left - 4, y(f)}, Point{left + column*float64(len(leads)), y(f)})
		if math.Mod(f, every) == 0 {
			p.words(number(f)+"f", Point{left - 8, y(f) + 3}, 8, Soft, End)
		}
	}
	p.line(Strong, 1.2, Point{left - 4, y(0)}, Point{left + column*float64(len(leads)), y(0)})
	for i, lead := range leads {
		x := left + column*(float64(i)+0.5)
		ink := InkOf(&motion.Dial{Control: lead.Control})
		p.line(ink, 2, Point{x, y(0)}, Point{x, y(lead.LagFrames)})
		tip := ""
		if lead.Channel != "" {
			tip = fmt.Sprintf("%s against %s, %.0f %% alike", lead.Channel, lead.LeaderBy, 100*lead.Correlation)
		}
		p.add(marker(shapes[ink], Point{x, y(lead.LagFrames)}, 5, ink, tip))
		p.heading(fitted(lead.Control, 8.5, column-6), Point{x, top + 4}, 8.5, Strong, Middle)
		below := 17.0
		if lead.LagFrames < 0 {
			below = -10
		}
		p.words(leadWords(lead, leader), Point{x, y(lead.LagFrames) + below}, 8, Strong, Middle)
	}
	p.Height = y(last) + 34
	return p
}

// LeadsText tells for a terminal who leads whom: a line a control, each as far to the right as it moves later.
func LeadsText(w io.Writer, m *motion.Motion, leader string, columns int) error {
	leads := Leads(m, leader)
	out := bufio.NewWriter(w)
	_, _ = fmt.Fprintf(out, "%s: how many frames after %s each control moves\n", m.Sheet.Name, leader)
	if len(leads) < 2 {
		_, _ = fmt.Fprintf(out, "nothing moves clearly as %s does\n", leader)
		return out.Flush()
	}
	names := 0
	for _, lead := range leads {
		names = max(names, utf8.RuneCountInString(lead.Control))
	}
	first, last := min(0, leads[0].LagFrames), max(0, leads[len(leads)-1].LagFrames)
	const words = 12 // for the numbers beside a marker, on both sides
	aFrame := min(4, float64(max(columns-names-2*words, 8))/max(last-first, 1))
	column := func(frames float64) int { return int(math.Round((frames - first) * aFrame)) }
	for _, lead := range leads {
		from, to := min(column(0), column(lead.LagFrames)), max(column(0), column(lead.LagFrames))
		bar := []rune(strings.Repeat(" ", from) + strings.Repeat("─", to-from+1))
		bar[column(0)] = '│'
		bar[column(lead.LagFrames)] = []rune(glyph(&motion.Dial{Control: lead.Control}))[0]
		_, _ = fmt.Fprintf(out, "%s%s  %s %s\n", lead.Control, strings.Repeat(" ", names-utf8.RuneCountInString(lead.Control)), string(bar), leadWords(lead, leader))
	}
	return out.Flush() // a bufio.Writer keeps its first error
}

func leadWords(l Lead, leader string) string {
	switch text := number(math.Round(l.LagFrames*10) / 10); {
	case l.Control == leader:
		return "leads"
	case text == "0":
		return "together"
	default:
		if l.LagFrames > 0 {
			return "+" + text + "f"
		}
		return text + "f"
	}
}
