package exchange

import (
	"fmt"
	"sort"

	"github.com/qmuntal/gltf"
)

// A Clip is one animation: tracks that move nodes, over seconds.
type Clip struct {
	// Name is as the file writes it, or empty.
	Name string
	// Start and End are the times in seconds of the first and the last key of any track.
	Start, End float64

	tracks  []track
	weights []track   // of morph targets, one a node; width is how many the node has
	note    *ClipNote // what an export left beside it; nil for nothing
}

// A property is what of a node a track moves.
type property int

const (
	moves property = iota
	turns
	scales
	weighs // morph targets, which are no part of a transform
)

func (p property) String() string {
	return [...]string{"translation", "rotation", "scale", "weights"}[p]
}

// A track is one sampler on one property of one node. times rise strictly; values hold
// width numbers a key, and for cubic ones three times that: in-slope, value, out-slope.
type track struct {
	node     int
	property property
	kind     gltf.Interpolation
	times    []float64
	values   []float64
	width    int
	exact    bool // written by an export: the sheet's own cubics
}

// Seconds is how long the clip lasts, from its first to its last key.
func (c *Clip) Seconds() float64 { return c.End - c.Start }

// readClips decodes all animations. Channels that move anything else than a node's own
// transform or the weights of its mesh's morph targets are noted and left out.
func (d *Document) readClips(file *gltf.Document, store *storage) error {
	if len(file.Animations) > mostClips {
		return fmt.Errorf("the file has %d animations, more than the %d that are read; export fewer at once", len(file.Animations), mostClips)
	}
	for i, from := range file.Animations {
		clip := Clip{Name: from.Name, note: noteOf(from.Extras)}
		taken := map[[2]int]bool{}
		left := 0
		for j, channel := range from.Channels {
			shapes := channel.Target.Path == gltf.TRSWeights
			if channel.Target.Node == nil || shapes && d.blends[*channel.Target.Node] == nil {
				left++
				continue
			}
			where := fmt.Sprintf("animation %d %q, channel %d", i, from.Name, j)
			var t track
			var err error
			if shapes {
				t, err = d.readWeights(from, channel, store)
			} else {
				t, err = readTrack(from, channel, store, len(d.nodes))
			}
			if err != nil {
				return fmt.Errorf("%s: %w", where, err)
			}
			key := [2]int{t.node, int(t.property)}
			if taken[key] {
				return fmt.Errorf("%s moves the %s of node %d %q a second time; export the file again with one channel each", where, t.property, t.node, d.nodes[t.node].name)
			}
			taken[key] = true
			clip.add(t)
		}
		if left > 0 {
			d.Notes = append(d.Notes, fmt.Sprintf("clip %q: %s left out, of weights of nodes without morph targets or of what no node is", from.Name, count(left, "channel")))
		}
		d.Clips = append(d.Clips, clip)
	}
	return nil
}

func (c *Clip) add(t track) {
	first := !c.movesSomething()
	if first || t.times[0] < c.Start {
		c.Start = t.times[0]
	}
	if last := t.times[len(t.times)-1]; first || last > c.End {
		c.End = last
	}
	if t.property == weighs {
		c.weights = append(c.weights, t)
	} else {
		c.tracks = append(c.tracks, t)
	}
}

// movesSomething tells whether the clip has any track that is read.
func (c *Clip) movesSomething() bool { return len(c.tracks)+len(c.weights) > 0 }

// timelines are the times of all tracks.
func (c *Clip) timelines() (out [][]float64) {
	for _, tracks := range [][]track{c.tracks, c.weights} {
		for i := range tracks {
			out = append(out, tracks[i].times)
		}
	}
	return out
}

// readTrack decodes one channel with its sampler and checks that both fit each other and
// the node.
func readTrack(from *gltf.Animation, channel *gltf.AnimationChannel, store *storage, nodes int) (track, error) {
	t := track{node: *channel.Target.Node, property: property(channel.Target.Path)}
	if t.node < 0 || t.node >= nodes {
		return t, fmt.Errorf("it moves node %d, but the file has %d nodes; export it again", t.node, nodes)
	}
	if channel.Sampler < 0 || channel.Sampler >= len(from.Samplers) {
		return t, fmt.Errorf("it uses sampler %d, but the animation has %d; export the file again", channel.Sampler, len(from.Samplers))
	}
	s := from.Samplers[channel.Sampler]
	t.kind = s.Interpolation
	var err error
	if t.times, err = readTimes(store, s.Input); err != nil {
		return t, err
	}
	read, width := store.floats, 3
	if t.property == turns {
		// The tangents of a cubic rotation are no unit quaternions: it is made unit
		// length after it is interpolated.
		width = 4
		if t.kind != gltf.InterpolationCubicSpline {
			read = store.quaternions
		}
	}
	values, err := read(s.Output)
	if err != nil {
		return t, err
	}
	want := len(t.times)
	if t.kind == gltf.InterpolationCubicSpline {
		want *= 3
	}
	if values.count() != want {
		return t, fmt.Errorf("accessor %d: it holds %d values, but %d times (accessor %d) need %d; export the file again", s.Output, values.count(), len(t.times), s.Input, want)
	}
	if values.width != width {
		return t, fmt.Errorf("accessor %d: it has %d numbers an element, and a %s has %d; export the file again", s.Output, values.width, t.property, width)
	}
	t.values, t.width = values.values, width
	return t, nil
}

func readTimes(store *storage, accessor int) ([]float64, error) {
	times, err := store.floats(accessor)
	if err != nil {
		return nil, err
	}
	if times.width != 1 {
		return nil, fmt.Errorf("accessor %d: it has %d numbers an element, and a time is one; export the file again", accessor, times.width)
	}
	for k := 1; k < len(times.values); k++ {
		if times.values[k] <= times.values[k-1] {
			return nil, fmt.Errorf("accessor %d: time %d (%g s) is not later than the one before it (%g s); export the file again with times that rise", accessor, k, times.values[k], times.values[k-1])
		}
	}
	return times.values, nil
}

// at is the value of the track at a time in seconds; outside its keys it stays at the
// nearest one. The interpolations are those of the glTF 2.0 specification, appendix on
// animation interpolation.
func (t *track) at(seconds float64) [4]float64 {
	i := sort.SearchFloat64s(t.times, seconds)
	if i < len(t.times) && t.times[i] == seconds {
		return t.key(i)
	}
	switch {
	case i == 0:
		return t.key(0)
	case i == len(t.times):
		return t.key(i - 1)
	case t.kind == gltf.InterpolationStep:
		return t.key(i - 1)
	}
	return t.between(i-1, i, seconds)
}

// between is the value at a time between two keys.
func (t *track) between(from, to int, seconds float64) [4]float64 {
	span := t.times[to] - t.times[from]
	u := (seconds - t.times[from]) / span
	if t.kind == gltf.InterpolationCubicSpline {
		return t.cubic(from, to, u, span)
	}
	a, b := t.key(from), t.key(to)
	if t.property == turns {
		return slerp(a, b, u)
	}
	for k := range a {
		a[k] += u * (b[k] - a[k])
	}
	return a
}

// key is the value at key i.
func (t *track) key(i int) (out [4]float64) {
	if t.kind == gltf.InterpolationCubicSpline {
		i = 3*i + 1
	}
	copy(out[:], t.values[i*t.width:(i+1)*t.width])
	if t.kind == gltf.InterpolationCubicSpline && t.property == turns {
		return unitOr(out)
	}
	return out
}

func (t *track) cubic(from, to int, u, span float64) (out [4]float64) {
	u2, u3 := u*u, u*u*u
	for k := range t.width {
		v0, m0 := t.values[(3*from+1)*t.width+k], t.values[(3*from+2)*t.width+k]
		m1, v1 := t.values[3*to*t.width+k], t.values[(3*to+1)*t.width+k]
		out[k] = (2*u3-3*u2+1)*v0 + span*(u3-2*u2+u)*m0 + (3*u2-2*u3)*v1 + span*(u3-u2)*m1
	}
	if t.property == turns {
		return unitOr(out)
	}
	return out
}

// unitOr makes a quaternion unit length; one that vanishes, as a cubic between two
// opposite keys can for an instant, is no turn.
func unitOr(q quat) quat {
	if q.dot(q) < 1e-18 {
		return quat{0, 0, 0, 1}
	}
	return q.normal()
}

// count writes a number with its noun in the singular or the plural.
func count(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}
