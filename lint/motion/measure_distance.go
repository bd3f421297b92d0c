package motion

import (
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/dsp/fourier"

	"github.com/motet-sheet/motet/grammar"
)

// Likeness is what of a cycle tells how like it is to another: how far each joint is from where it rests, in figure
// heights, taken apart into the harmonics of the cycle. What the figure gains by an advance is left out.
type Likeness struct {
	rig       *Rig
	beats     grammar.Rat  // the cycle's length
	harmonics int          // of each joint and axis, from 0, the mean
	parts     []complex128 // joint by joint, axis by axis
}

// Likeness works out what [Apart] compares; nil for a span, and for a rig without joints.
func (s *Sampled) Likeness() *Likeness {
	m := s.Motion
	if !s.Closed || len(m.Rig.Joints) == 0 || !(m.Rig.Height > 0) {
		return nil
	}
	l := &Likeness{rig: m.Rig, beats: m.Sheet.Beats(m.Sheet.Length), harmonics: (s.Count + 1) / 2}
	l.parts = make([]complex128, 0, 3*len(m.Rig.Joints)*l.harmonics)
	correlator := NewCorrelator(s.Count)
	perHeight := complex(1/m.Rig.Height, 0)
	rest := m.Rig.RestWorld()
	for i := range 3 * len(m.Rig.Joints) {
		xs := correlator.transform(s.Place(i/3, i%3), false)[:l.harmonics]
		xs[0] -= complex(rest[i/3][9+i%3], 0)
		for _, x := range xs {
			l.parts = append(l.parts, x*perHeight)
		}
	}
	return l
}

// MotionRMS is the cycle's own motion: the root of the mean square, over joints and time, of how far each joint is from
// its own mean place, in figure heights. The mean is left out so that a rest pose that is far from how the figure stands,
// such as with the arms held out, makes nobody alike.
func (l *Likeness) MotionRMS() float64 {
	sum := 0.0
	for i, x := range l.parts {
		if i%l.harmonics != 0 {
			sum += 2 * squared(x)
		}
	}
	return math.Sqrt(sum / float64(len(l.rig.Joints)))
}

// Distance is how far two cycles are from one another, at the best phase and mirror.
type Distance struct {
	// RMS is the root of the mean square, over the joints that both rigs have and over time, of the difference of the
	// joints' displacements from rest, in figure heights; +∞ where the rigs share no joint. Divided by the base's
	// MotionRMS it is the share that `too-alike` limits.
	RMS      float64
	LagBeats float64 // by which the second is played later than the first
	Mirrored bool    // the second is nearest when its left and right are swapped
	Joints   int     // that both have
}

// Apart measures the distance of two cycles. Both are taken beat by beat, so that a tempo alone makes nobody different;
// cycles of unequal length both repeat until they come out together.
func Apart(a, b *Likeness) Distance { return newComparer().compare(a, b) }

// Distances measures all distances between the members of a cast: entry i, j compares member j with member i. The
// members' harmonics are taken once; a pair takes a time that grows with joints × harmonics. A nil member is infinitely
// far from all.
func Distances(members []*Likeness) [][]Distance {
	rows, _ := distancesAgain(members, nil)
	return rows
}

// distances are those of pairs, the later member of each pair first.
type distances map[[2]*Likeness]Distance

// distancesAgain is Distances that takes over what is known of pairs, and gives what is known now.
func distancesAgain(members []*Likeness, known distances) ([][]Distance, distances) {
	c, now := newComparer(), distances{}
	all := make([]Distance, len(members)*len(members))
	rows := make([][]Distance, len(members))
	for i := range rows {
		rows[i] = all[i*len(members) : (i+1)*len(members)]
	}
	for i, a := range members {
		for j, b := range members[:i] {
			switch {
			case a == nil || b == nil:
				rows[i][j] = Distance{RMS: math.Inf(1)}
			default:
				pair := [2]*Likeness{a, b}
				d, ok := known[pair]
				if !ok {
					d = c.compare(a, b)
				}
				rows[i][j], now[pair] = d, d
			}
			rows[j][i] = rows[i][j]
			rows[j][i].LagBeats = -rows[i][j].LagBeats
		}
		if a == nil {
			rows[i][i].RMS = math.Inf(1)
		} else {
			rows[i][i].Joints = len(a.rig.Joints)
		}
	}
	return rows, now
}

// comparer keeps what comparisons share: transforms by their length, and which joints of two rigs belong together.
type comparer struct {
	ffts   map[int]*fourier.FFT
	joints map[[2]*Rig][]jointPair
	cross  []complex128
	turn   []complex128
	values []float64
}

// jointPair is a joint of one rig, the one of that name in another, and the latter's on the other side.
type jointPair struct{ first, second, mirrored int }

func newComparer() *comparer {
	return &comparer{ffts: map[int]*fourier.FFT{}, joints: map[[2]*Rig][]jointPair{}}
}

// comparison is two cycles put side by side. Their lengths are p and q times the longest stretch that fits both a whole
// number of times, so they have only every p-th harmonic of the one and every q-th of the other in common.
type comparison struct {
	a, b   *Likeness
	joints []jointPair
	p, q   int
	shared int // harmonics in common, the mean among them
}

// compare finds the shift and the side at which the mean of |a − b|² is least: where the cross-correlation is greatest,
// since the sizes of both stay as they are.
func (c *comparer) compare(a, b *Likeness) Distance {
	with := comparison{a: a, b: b, joints: c.pairs(a.rig, b.rig)}
	d := Distance{RMS: math.Inf(1), Joints: len(with.joints)}
	if d.Joints == 0 {
		return d
	}
	with.p, with.q = ratio(a.beats, b.beats)
	with.shared = min((a.harmonics-1)/with.p, (b.harmonics-1)/with.q) + 1
	fft := c.room(with.shared)
	for _, mirrored := range [2]bool{false, true} {
		size := with.correlate(mirrored, c.cross)
		shift, _ := bestShift(fft, c.cross, c.values, 1e-9*size)
		turns := shift / float64(fft.Len())
		if rms := math.Sqrt(with.square(mirrored, c.turns(turns, with.shared)) / float64(d.Joints)); rms < d.RMS-1e-12 {
			d.RMS, d.Mirrored, d.LagBeats = rms, mirrored, turns*a.beats.Float()/float64(with.p)
		}
	}
	return d
}

// room makes room for a number of shared harmonics and gives the transform of at least twice as many samples.
func (c *comparer) room(shared int) *fourier.FFT {
	size := 4
	for size < 2*shared {
		size *= 2
	}
	if c.ffts[size] == nil {
		c.ffts[size] = fourier.NewFFT(size)
	}
	c.cross = slices.Grow(c.cross[:0], size/2+1)[:size/2+1]
	c.values = slices.Grow(c.values[:0], size)[:size]
	return c.ffts[size]
}

// turns gives e^(2πi·j·turns) for each shared harmonic j.
func (c *comparer) turns(turns float64, shared int) []complex128 {
	c.turn = slices.Grow(c.turn[:0], shared)[:shared]
	for j := range c.turn {
		sin, cos := math.Sincos(2 * math.Pi * turns * float64(j))
		c.turn[j] = complex(cos, sin)
	}
	return c.turn
}

// each gives the harmonics of every joint's axes, with what the second's count for: its sideways axis turns round in the
// mirror.
func (w *comparison) each(mirrored bool, take func(xs, ys []complex128, sign float64)) {
	for _, pair := range w.joints {
		other := pair.second
		if mirrored {
			other = pair.mirrored
		}
		for axis := range 3 {
			sign := 1.0
			if mirrored && axis == 0 {
				sign = -1
			}
			take(w.a.row(pair.first, axis), w.b.row(other, axis), sign)
		}
	}
}

func (l *Likeness) row(joint, axis int) []complex128 {
	i := (3*joint + axis) * l.harmonics
	return l.parts[i : i+l.harmonics]
}

// correlate writes the cross-correlation's harmonics, and gives the size that rounding is judged by.
func (w *comparison) correlate(mirrored bool, cross []complex128) (size float64) {
	clear(cross)
	w.each(mirrored, func(xs, ys []complex128, sign float64) {
		for j := range w.shared {
			x, y := xs[j*w.p], ys[j*w.q]
			cross[j] += conjugate(x) * y * complex(sign, 0)
			size += squared(x) + squared(y)
		}
	})
	return size
}

// square is the mean over time of |a − b|², b turned on, added up over the joints (Parseval's theorem): over the shared
// harmonics the difference's, over all others those of both. Taken from the difference itself, two equal cycles come to
// nothing and not to what rounding leaves of two large numbers.
func (w *comparison) square(mirrored bool, turns []complex128) (sum float64) {
	w.each(mirrored, func(xs, ys []complex128, sign float64) {
		mean := xs[0] - complex(sign, 0)*ys[0]
		sum += squared(mean)
		for j := 1; j < w.shared; j++ {
			sum += 2 * squared(xs[j*w.p]-complex(sign, 0)*ys[j*w.q]*turns[j])
		}
		sum += 2 * (w.rest(xs, w.p) + w.rest(ys, w.q))
	})
	return sum
}

// rest is the size of the harmonics that are not every step-th, or that are beyond those shared.
func (w *comparison) rest(xs []complex128, step int) (sum float64) {
	if step == 1 {
		for _, x := range xs[w.shared:] {
			sum += squared(x)
		}
		return sum
	}
	for k, x := range xs {
		if k%step != 0 || k/step >= w.shared {
			sum += squared(x)
		}
	}
	return sum
}

// ratio is the length of one cycle to that of another in lowest terms. Where that can't be kept exactly they have nothing
// but the mean in common.
func ratio(a, b grammar.Rat) (first, second int) {
	r := a.Div(b)
	if !r.OK() {
		return math.MaxInt, math.MaxInt
	}
	return int(r.Num()), int(r.Den())
}

// pairs gives the joints that two rigs both have, by name.
func (c *comparer) pairs(a, b *Rig) []jointPair {
	key := [2]*Rig{a, b}
	if pairs, ok := c.joints[key]; ok {
		return pairs
	}
	var pairs []jointPair
	for i := range a.Joints {
		if j := b.JointIndex(a.Joints[i].Name); j >= 0 {
			pairs = append(pairs, jointPair{i, j, b.MirroredJoint(j)})
		}
	}
	c.joints[key] = pairs
	return pairs
}

// MirroredJoint is the joint on the other side: that of the other control of a pair where joints are named as their
// controls, or the one whose name ends in .right for .left; the joint itself where there is none.
func (r *Rig) MirroredJoint(joint int) int {
	name := r.Joints[joint].Name
	other := r.Mirrored(name)
	if stem, ok := strings.CutSuffix(name, ".left"); ok && other == name {
		other = stem + ".right"
	} else if stem, ok := strings.CutSuffix(name, ".right"); ok && other == name {
		other = stem + ".left"
	}
	if i := r.JointIndex(other); i >= 0 {
		return i
	}
	return joint
}
