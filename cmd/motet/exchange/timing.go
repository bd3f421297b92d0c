package exchange

import (
	"fmt"
	"math"
	"sort"
	"strconv"
	"strings"
)

// A Rate is a number of frames a second, exactly Frames / Seconds.
type Rate struct {
	Frames, Seconds int64
}

// String writes the rate as a header line does: "24 fps", "24000/1001 fps".
func (r Rate) String() string {
	if r.Seconds == 1 {
		return fmt.Sprintf("%d fps", r.Frames)
	}
	return fmt.Sprintf("%d/%d fps", r.Frames, r.Seconds)
}

func (r Rate) perSecond() float64 { return float64(r.Frames) / float64(r.Seconds) }

// PerSecond is the rate as a number; 0 for the zero value.
func (r Rate) PerSecond() float64 {
	if r.Seconds == 0 {
		return 0
	}
	return r.perSecond()
}

// ParseRate reads "24", "24 fps", "24000/1001", and 23.976, 29.97 and 59.94, which mean
// n·1000/1001 exactly.
func ParseRate(text string) (Rate, error) {
	bare := strings.TrimSpace(strings.TrimSuffix(strings.ToLower(strings.TrimSpace(text)), "fps"))
	switch bare {
	case "23.976":
		return Rate{24000, 1001}, nil
	case "29.97":
		return Rate{30000, 1001}, nil
	case "59.94":
		return Rate{60000, 1001}, nil
	}
	above, below, fraction := strings.Cut(bare, "/")
	frames, err := strconv.ParseInt(above, 10, 32)
	seconds := int64(1)
	if err == nil && fraction {
		seconds, err = strconv.ParseInt(below, 10, 32)
	}
	if err != nil || frames < 1 || seconds < 1 || frames > 1000*seconds {
		return Rate{}, fmt.Errorf("rate %q is no number of frames a second; write 24, 24000/1001 or 23.976", text)
	}
	return Rate{frames, seconds}, nil
}

// timing says which seconds of a clip its frames are.
type timing struct {
	rate   Rate
	frames int     // whole frames from the first to the last
	start  float64 // seconds of the clip at frame 0
	frame  float64 // seconds of the clip a frame
	// stretch is how much faster the sheet plays than the clip, as a ratio, where the
	// clip was no whole number of frames long; 1 otherwise.
	stretch float64
	// even says that the keys of the clip lie on its frames.
	even bool
}

// seconds is the time in the clip at a step.
func (t timing) seconds(step int) float64 {
	return t.start + t.frame*float64(step)/stepsPerFrame
}

// usualRates are tried in this order: a clip with a key on every second frame of 24 is
// one of 24 and not of 12.
func usualRates() []Rate {
	return []Rate{{24, 1}, {30, 1}, {25, 1}, {60, 1}, {50, 1}, {48, 1}, {24000, 1001}, {30000, 1001}, {60000, 1001}, {120, 1}, {15, 1}, {12, 1}, {100, 1}, {240, 1}}
}

// timingOf guesses the rate from the spacing of the keys, or takes the one asked for,
// and drops the offset at which the clip starts.
func timingOf(clip *Clip, asked Rate) (timing, error) {
	t := timing{start: clip.Start, stretch: 1}
	if !clip.movesSomething() {
		return t, fmt.Errorf("the clip moves no node; choose another")
	}
	t.rate, t.even = guessRate(clip)
	if asked != (Rate{}) {
		_, misfit := worstMisfit(keyTimes(clip), clip.Start, asked)
		t.rate, t.even = asked, misfit < nearFrame
	}
	exact := clip.Seconds() * t.rate.perSecond()
	if exact > mostJointFrames {
		return t, fmt.Errorf("the clip is %.0f frames long at %s; export a shorter piece or a lower rate", exact, t.rate)
	}
	t.frames = max(1, int(math.Round(exact)))
	t.frame = clip.Seconds() / float64(t.frames)
	if math.Abs(exact-float64(t.frames)) > nearFrame {
		t.stretch = exact / float64(t.frames)
	}
	return t, nil
}

// nearFrame is how far in frames a key may lie off a frame by the rounding of 32-bit
// seconds and of exporters' arithmetic.
const nearFrame = 0.02

// guessRate finds the frames that all keys of a clip lie on; even is false when no rate
// has them. Where a clip is not baked but keyed between frames, as exporters do that fit
// curves, its frames are those of the note beside it, or those that more of its keys lie on
// than chance would have.
func guessRate(clip *Clip) (rate Rate, even bool) {
	times := keyTimes(clip)
	finest := Rate{} // that all keys lie on, though no track has one on most of its frames
	for _, r := range usualRates() {
		if _, worst := worstMisfit(times, clip.Start, r); worst >= nearFrame {
			continue
		}
		if r.perSecond() < leastFineRate || clip.baked(r) {
			return clip.notedOr(r, times), true
		}
		if finest == (Rate{}) {
			finest = r
		}
	}
	if n := len(times) - 1; n > 1 && finest == (Rate{}) {
		r := nearFraction(float64(n) / clip.Seconds())
		if _, worst := worstMisfit(times, clip.Start, r); worst < nearFrame {
			return r, true
		}
	}
	if r := clip.notedOr(Rate{}, times); r != (Rate{}) {
		return r, false
	}
	if r, found := rateOfMost(clip, finest); found {
		return r, false
	}
	if finest != (Rate{}) {
		return finest, true
	}
	best, least := Rate{30, 1}, math.Inf(1)
	for _, r := range usualRates()[:6] {
		if mean, _ := worstMisfit(times, clip.Start, r); mean*r.perSecond() < least*0.999 {
			best, least = r, mean*r.perSecond()
		}
	}
	return best, false
}

// leastFineRate is the rate from which on a clip has to be baked to count as one of that rate. Nobody animates on such
// frames; a hundred and twenty a second have those of 24, of 30 and of 60 among them, and so fit many a clip whose keys lie
// between frames.
const leastFineRate = 100

// baked tells whether a track has keys on most frames of a rate.
func (c *Clip) baked(r Rate) bool {
	for _, times := range c.timelines() {
		if frames := (times[len(times)-1] - times[0]) * r.perSecond(); len(times) > 2 && float64(len(times)) > frames/2 {
			return true
		}
	}
	return false
}

// notedOr is the rate that an export noted beside the clip, where the clip still is as long as it was and not baked at
// another rate; otherwise the one given.
func (c *Clip) notedOr(other Rate, times []float64) Rate {
	if c.note == nil || math.Abs(c.note.Seconds-c.Seconds()) > 1e-3 {
		return other
	}
	noted, err := ParseRate(c.note.Rate)
	if err != nil {
		return other
	}
	if _, worst := worstMisfit(times, c.Start, noted); other != (Rate{}) && worst >= nearFrame && c.baked(other) {
		return other
	}
	return noted
}

// leastFilmRate is the least rate that keys between frames are taken for: those of film, not the twos that are drawn on them.
const leastFilmRate = 23.9

// surprise is how many standard deviations more keys than by chance have to lie on the frames of a rate.
const surprise = 3

// rateOfMost finds the rate on whose frames more of the keys lie than chance would have, among those of which the clip is
// a whole number of frames long. A moment counts for each track that has a key then: what was keyed together stands on
// frames, and what a fit adds to a track seldom meets another's. Where all keys lie on a finer rate, chance has less to
// choose from, and the best will do.
func rateOfMost(clip *Clip, finest Rate) (rate Rate, found bool) {
	most := float64(surprise)
	if finest != (Rate{}) {
		most = math.Inf(-1)
	}
	for _, r := range usualRates() {
		length := clip.Seconds() * r.perSecond()
		if r.perSecond() >= leastFineRate || r.perSecond() < leastFilmRate || math.Abs(length-math.Round(length)) >= nearFrame {
			continue
		}
		chance := 2 * nearFrame
		if finest != (Rate{}) {
			chance = math.Max(chance, r.perSecond()/finest.perSecond())
		}
		on, n := 0, 0
		for _, times := range clip.timelines() {
			for _, t := range times {
				if t == clip.Start || t == clip.End {
					continue // on frames anyway
				}
				n++
				if at := (t - clip.Start) * r.perSecond(); math.Abs(at-math.Round(at)) < nearFrame {
					on++
				}
			}
		}
		more := (float64(on) - float64(n)*chance) / math.Sqrt(math.Max(1, float64(n)*chance*(1-chance)))
		// A rate later in the list has to be clearly better, such as the double of one.
		if more > most && (!found || more > 1.1*most) {
			rate, found, most = r, true, more
		}
	}
	return rate, found
}

// keyTimes are the distinct times at which any moving track of the clip has a key.
// Tracks of two keys hold constants and say nothing about frames beyond the ends.
func keyTimes(clip *Clip) []float64 {
	var all []float64
	seen := map[*float64]bool{}
	for _, times := range clip.timelines() {
		if !seen[&times[0]] {
			seen[&times[0]] = true
			all = append(all, times...)
		}
	}
	sort.Float64s(all)
	distinct := all[:0]
	for _, t := range all {
		if len(distinct) == 0 || t-distinct[len(distinct)-1] > 1e-5 {
			distinct = append(distinct, t)
		}
	}
	return distinct
}

// worstMisfit is how far times lie off whole frames, in frames: the mean and the worst.
func worstMisfit(times []float64, start float64, r Rate) (mean, worst float64) {
	for _, t := range times {
		at := (t - start) * r.perSecond()
		off := math.Abs(at - math.Round(at))
		mean += off / float64(len(times))
		worst = math.Max(worst, off)
	}
	return mean, worst
}

// nearFraction is the simplest fraction within one part in a million of x, by continued
// fractions.
func nearFraction(x float64) Rate {
	p0, q0, p1, q1 := int64(0), int64(1), int64(1), int64(0)
	rest := x
	for range 20 {
		whole := math.Floor(rest)
		p0, p1 = p1, int64(whole)*p1+p0
		q0, q1 = q1, int64(whole)*q1+q0
		if math.Abs(float64(p1)/float64(q1)-x) <= 1e-6*x || q1 > 100_000 || rest == whole {
			break
		}
		rest = 1 / (rest - whole)
	}
	return Rate{max(1, p1), max(1, q1)}
}
