package motion

import (
	"math"
	"slices"
	"sort"
)

// drive is a signal made of cubics: what a leader does, as its followers read it. In a cycle it repeats with its length;
// in a span it keeps its first value before 0 and its last one after the end.
type drive struct {
	length float64 // frames
	closed bool
	starts []float64 // of the pieces, rising from 0 without a hole
	pieces []poly
	last   float64 // where a span's value stays after its end
}

// poly is a cubic in the time since its piece began: p[0] + p[1]·s + p[2]·s² + p[3]·s³, s in frames.
type poly [4]float64

func (p *poly) at(s float64) float64 { return p[0] + s*(p[1]+s*(p[2]+s*p[3])) }

func (p *poly) slope(s float64) float64 { return p[1] + s*(2*p[2]+s*3*p[3]) }

// from is the same cubic counted from s on (Taylor's shift).
func (p *poly) from(s float64) poly {
	return poly{p.at(s), p.slope(s), p[2] + 3*p[3]*s, p[3]}
}

func (p *poly) plus(q poly) poly { return poly{p[0] + q[0], p[1] + q[1], p[2] + q[2], p[3] + q[3]} }

func (p *poly) times(f float64) poly { return poly{p[0] * f, p[1] * f, p[2] * f, p[3] * f} }

// hermitePoly is the cubic through two values with two slopes a frame (glTF 2.0, CUBICSPLINE), over some frames.
func hermitePoly(frames, value0, slope0, value1, slope1 float64) poly {
	if frames <= 0 {
		return poly{value0}
	}
	rise := (value1 - value0) / frames
	return poly{value0, slope0, (3*rise - 2*slope0 - slope1) / frames, (slope0 + slope1 - 2*rise) / (frames * frames)}
}

// Eased curves and springs' outputs are no cubics; as drives they are replaced by cubics of this many frames that meet
// them in value and slope, which is exact to the fourth power of it.
const driveStep = 0.25

// constantDrive never moves.
func constantDrive(v, length float64, closed bool) *drive {
	return &drive{length, closed, []float64{0}, []poly{{v}}, v}
}

// strandDrive is a strand's curve over a sheet's length, without what it gains each round.
func strandDrive(s *Strand, length float64, closed bool) *drive {
	d := &drive{length: length, closed: closed}
	period := s.Period.Float()
	if period <= 0 {
		return constantDrive(0, length, closed)
	}
	gain := s.Curve.Extent().Gain / period
	cubics := s.Curve.Cubics(driveStep)
	for round := 0; float64(round)*period < length-closest; round++ {
		from := float64(round) * period
		for _, c := range cubics {
			p := hermitePoly(c.Duration, c.Value0-gain*c.Start, c.Slope0-gain, c.Value1-gain*(c.Start+c.Duration), c.Slope1-gain)
			d.starts = append(d.starts, from+c.Start)
			d.pieces = append(d.pieces, p)
		}
	}
	if len(d.starts) == 0 {
		return constantDrive(s.Curve.At(0), length, closed)
	}
	d.last = s.Curve.At(length)
	if closed {
		d.last = d.pieces[0][0]
	}
	return d
}

// sampledDrive meets a signal in value and slope every quarter frame.
func sampledDrive(length float64, closed bool, signal func(t float64) (value, slope float64)) *drive {
	count := max(1, int(math.Ceil(length/driveStep)))
	step := length / float64(count)
	d := &drive{length: length, closed: closed}
	value0, slope0 := signal(0)
	for i := range count {
		value1, slope1 := signal(float64(i+1) * step)
		d.starts = append(d.starts, float64(i)*step)
		d.pieces = append(d.pieces, hermitePoly(step, value0, slope0, value1, slope1))
		value0, slope0 = value1, slope1
	}
	d.last = value0
	return d
}

// wrapTime brings a time into 0 … length of a cycle.
func wrapTime(t, length float64) float64 {
	t = remainder(t, length)
	if t >= length {
		t = 0
	}
	return t
}

func (d *drive) find(t float64) int {
	return max(sort.Search(len(d.starts), func(i int) bool { return d.starts[i] > t })-1, 0)
}

// at is the drive's value and slope a frame; where they jump, those just after.
func (d *drive) at(t float64) (value, slope float64) {
	switch {
	case d.closed:
		t = wrapTime(t, d.length)
	case t < 0:
		return d.pieces[0][0], 0
	case t >= d.length:
		return d.last, 0
	}
	i := d.find(t)
	s := t - d.starts[i]
	return d.pieces[i].at(s), d.pieces[i].slope(s)
}

// before is the slope just before a time, which differs from the slope after it at a corner.
func (d *drive) before(t float64) float64 {
	switch {
	case d.closed:
		t = wrapTime(t, d.length)
		if t <= closest {
			last := len(d.pieces) - 1
			return d.pieces[last].slope(d.length - d.starts[last])
		}
	case t <= 0 || t > d.length:
		return 0
	}
	i := d.find(t - closest)
	return d.pieces[i].slope(t - d.starts[i])
}

// mean is the mean over the cycle.
func (d *drive) mean() float64 {
	var area float64
	for i, p := range d.pieces {
		end := d.length
		if i+1 < len(d.starts) {
			end = d.starts[i+1]
		}
		s := end - d.starts[i]
		area += s * (p[0] + s*(p[1]/2+s*(p[2]/3+s*p[3]/4)))
	}
	return area / d.length
}

// departure is the drive less its mean, or in a span less its first value, times a gain: what a follower reads.
func (d *drive) departure(gain float64) *drive {
	zero := d.pieces[0][0]
	if d.closed {
		zero = d.mean()
	}
	out := &drive{length: d.length, closed: d.closed, starts: d.starts, last: (d.last - zero) * gain}
	for _, p := range d.pieces {
		p[0] -= zero
		out.pieces = append(out.pieces, p.times(gain))
	}
	return out
}

// late is the drive played some frames later.
func (d *drive) late(frames float64) *drive {
	if frames == 0 {
		return d
	}
	out := &drive{length: d.length, closed: d.closed, last: d.last}
	if d.closed {
		return d.turned(out, frames)
	}
	add := func(start float64, p poly) {
		out.starts = append(out.starts, start)
		out.pieces = append(out.pieces, p)
	}
	if frames > 0 {
		add(0, poly{d.pieces[0][0]})
	}
	for i, p := range d.pieces {
		start, end := d.starts[i]+frames, d.length+frames
		if i+1 < len(d.starts) {
			end = d.starts[i+1] + frames
		}
		if end <= 0 || start >= d.length {
			continue
		}
		if start < 0 {
			p, start = p.from(-start), 0
		}
		add(start, p)
	}
	if end := d.length + frames; end < d.length {
		add(max(end, 0), poly{d.last})
	}
	if frames > 0 {
		out.last, _ = d.at(d.length - frames)
	}
	return out
}

// turned is a cycle's drive played later: its pieces move on, and the one that then runs over the seam is cut there.
func (d *drive) turned(out *drive, frames float64) *drive {
	shift := wrapTime(frames, d.length)
	first := d.find(wrapTime(-shift, d.length))
	cut := wrapTime(-shift, d.length)
	for k := 0; k <= len(d.pieces); k++ {
		i := (first + k) % len(d.pieces)
		p, start := d.pieces[i], d.starts[i]+shift
		switch {
		case k == 0:
			p, start = p.from(cut-d.starts[i]), 0
		case k == len(d.pieces) && cut-d.starts[i] <= closest:
			continue // the cut fell between two pieces
		}
		if start >= d.length {
			start -= d.length
		}
		if last := len(out.starts) - 1; last >= 0 && start <= out.starts[last]+closest {
			out.pieces[last] = p // the one before has no length
			continue
		}
		out.starts = append(out.starts, start)
		out.pieces = append(out.pieces, p)
	}
	return out
}

// sum adds drives of one length, exactly: the pieces are cut where any of them begins a new one.
func sum(drives []*drive) *drive {
	if len(drives) == 1 {
		return drives[0]
	}
	out := &drive{length: drives[0].length, closed: drives[0].closed}
	for _, d := range drives {
		out.starts = append(out.starts, d.starts...)
		out.last += d.last
	}
	slices.Sort(out.starts)
	out.starts = slices.CompactFunc(out.starts, func(a, b float64) bool { return math.Abs(b-a) <= closest })
	out.pieces = make([]poly, len(out.starts))
	for _, d := range drives {
		i := 0
		for k, start := range out.starts {
			for i+1 < len(d.starts) && d.starts[i+1] <= start+closest {
				i++
			}
			out.pieces[k] = out.pieces[k].plus(d.pieces[i].from(start - d.starts[i]))
		}
	}
	return out
}
