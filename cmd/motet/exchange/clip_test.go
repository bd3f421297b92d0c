package exchange

import (
	"encoding/binary"
	"math"
	"testing"

	"github.com/qmuntal/gltf"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func float32Bytes(v float32) []byte {
	return binary.LittleEndian.AppendUint32(nil, math.Float32bits(v))
}

func nan32() float32 { return float32(math.NaN()) }

func inf32() float32 { return float32(math.Inf(1)) }

// Every interpolation of every property is what the witness (gonum's quaternions, and the
// equations of the glTF 2.0 specification written out a second time) says.
func TestInterpolationsAgreeWithTheWitness(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		spec := trackSpec{
			path: rapid.SampledFrom([]gltf.TRSProperty{gltf.TRSTranslation, gltf.TRSRotation, gltf.TRSScale}).Draw(r, "path"),
			kind: rapid.SampledFrom([]gltf.Interpolation{gltf.InterpolationLinear, gltf.InterpolationStep, gltf.InterpolationCubicSpline}).Draw(r, "kind"),
		}
		width := 3
		if spec.path == gltf.TRSRotation {
			width = 4
		}
		n := rapid.IntRange(1, 6).Draw(r, "keys")
		elements := n
		if spec.kind == gltf.InterpolationCubicSpline {
			elements *= 3
		}
		now := float32(rapid.IntRange(0, 90).Draw(r, "start")) / 30
		for range n {
			now += float32(rapid.IntRange(1, 30).Draw(r, "gap")) / 30
			spec.times = append(spec.times, now)
		}
		for range elements {
			element := make([]float32, width)
			for i := range element {
				element[i] = float32(rapid.IntRange(-1000, 1000).Draw(r, "value"))/400 + 0.001
			}
			spec.values = append(spec.values, element)
		}
		p := lamp()
		p.clips[0].tracks = []trackSpec{spec}
		data := glb(t, p.document(t))
		d, err := Read("a.glb", inMemory(map[string][]byte{"a.glb": data}))
		require.NoError(t, err)
		w := newWitness(t, data, 0)
		track, witnessed := &d.Clips[0].tracks[0], w.tracks[[2]int{0, int(spec.path)}]
		for k := -5; k < 60; k++ {
			seconds := float64(spec.times[0]) + (float64(now)-float64(spec.times[0]))*float64(k)/50
			got, want := track.at(seconds), witnessed.at(seconds)
			if spec.path == gltf.TRSRotation {
				q := number4(want)
				assert.InDelta(t, 0, quat(got).angleTo(quat{q.Imag, q.Jmag, q.Kmag, q.Real}), 1e-5)
				continue
			}
			assert.InDeltaSlice(t, want, got[:3], 1e-9)
		}
	})
}

// Normalised integers, by the equations of the glTF 2.0 specification, section on
// animations: -32767 and -32768 are both -1.
func TestNormalisedIntegers(t *testing.T) {
	p := lamp()
	p.clips[0].tracks[0].data = [][4]int16{{0, 0, 0, 32767}, {0, 32767, 0, 0}, {0, -32768, 0, 0}}
	d := readPuppet(t, p)
	track := d.Clips[0].tracks[0]
	assert.InDelta(t, 0, quat(track.key(0)).angleTo(quat{0, 0, 0, 1}), 1e-9)
	assert.InDelta(t, 180, quat(track.key(1)).angleTo(quat{0, 0, 0, 1}), 1e-9)
	assert.Equal(t, [4]float64{0, -1, 0, 0}, track.key(2))

	p.clips[0].tracks[0].data = [][4]int8{{0, 0, 0, 127}, {0, 0, 127, 0}, {-127, 0, 0, 0}}
	track = readPuppet(t, p).Clips[0].tracks[0]
	assert.Equal(t, [4]float64{0, 0, 1, 0}, track.key(1))
	assert.Equal(t, [4]float64{-1, 0, 0, 0}, track.key(2))

	p.clips[0].tracks = []trackSpec{{path: gltf.TRSScale, times: []float32{0, 1}, data: [][3]uint8{{255, 51, 0}, {0, 102, 255}}}}
	track = readPuppet(t, p).Clips[0].tracks[0]
	assert.InDeltaSlice(t, []float64{1, 0.2, 0}, track.values[:3], 1e-12)
}

func TestChannelsThatMoveNoNodeAreNoted(t *testing.T) {
	doc := lamp().document(t)
	doc.Nodes[0].Weights = []float64{0}
	doc.Animations[0].Channels = append(doc.Animations[0].Channels,
		&gltf.AnimationChannel{Target: gltf.AnimationChannelTarget{Node: gltf.Index(0), Path: gltf.TRSWeights}},
		&gltf.AnimationChannel{Target: gltf.AnimationChannelTarget{Path: gltf.TRSTranslation}})
	d, err := Read("a.glb", inMemory(map[string][]byte{"a.glb": glb(t, doc)}))
	require.NoError(t, err)
	assert.Equal(t, []string{`clip "Sway": 2 channels left out, of weights of nodes without morph targets or of what no node is`}, d.Notes)
	assert.Len(t, d.Clips[0].tracks, 1)
}

func TestRates(t *testing.T) {
	times := func(rate float64, frames ...float64) clipSpec {
		spec := trackSpec{path: gltf.TRSTranslation}
		for _, f := range frames {
			spec.times = append(spec.times, float32(f/rate))
			spec.values = append(spec.values, []float32{float32(f), 0, 0})
		}
		return clipSpec{name: "c", tracks: []trackSpec{spec}}
	}
	every := func(first, last, step float64) (frames []float64) {
		for f := first; f <= last; f += step {
			frames = append(frames, f)
		}
		return frames
	}
	for name, c := range map[string]struct {
		clip   clipSpec
		want   Rate
		frames int
		even   bool
	}{
		"24, from frame 2":              {times(24, every(2, 140, 1)...), Rate{24, 1}, 138, true},
		"30, from frame 1":              {times(30, every(1, 91, 1)...), Rate{30, 1}, 90, true},
		"25":                            {times(25, every(0, 50, 1)...), Rate{25, 1}, 50, true},
		"60":                            {times(60, every(0, 61, 1)...), Rate{60, 1}, 61, true},
		"film rate of video":            {times(24000.0/1001, every(0, 240, 1)...), Rate{24000, 1001}, 240, true},
		"29.97":                         {times(30000.0/1001, every(0, 300, 1)...), Rate{30000, 1001}, 300, true},
		"on twos at 24":                 {times(24, every(0, 48, 2)...), Rate{24, 1}, 48, true},
		"24 at an odd offset of a 30th": {times(24, every(1.6, 54.6, 1)...), Rate{24, 1}, 53, true},
		"few keys at 30":                {times(30, 0, 7, 20, 45), Rate{30, 1}, 45, true},
		"a rate of its own":             {times(17, every(0, 34, 1)...), Rate{17, 1}, 34, true},
		"keys on no frames":             {times(30, 0, 3.3, 11.47, 20.61, 44.9), Rate{30, 1}, 45, false},
	} {
		t.Run(name, func(t *testing.T) {
			p := lamp()
			p.clips = []clipSpec{c.clip}
			got, err := timingOf(&readPuppet(t, p).Clips[0], Rate{})
			require.NoError(t, err)
			if c.even {
				assert.Equal(t, c.want, got.rate)
				assert.Equal(t, c.frames, got.frames)
			}
			assert.Equal(t, c.even, got.even)
		})
	}
}

func TestParseRate(t *testing.T) {
	for text, want := range map[string]Rate{"24": {24, 1}, "24 fps": {24, 1}, "24fps": {24, 1}, "23.976": {24000, 1001}, "29.97 FPS": {30000, 1001}, "59.94": {60000, 1001}, "24000/1001": {24000, 1001}} {
		got, err := ParseRate(text)
		require.NoError(t, err, text)
		assert.Equal(t, want, got, text)
	}
	for _, text := range []string{"", "0", "-24", "24.5", "1/0", "x", "1e9", "99999999999999999999", "2000"} {
		_, err := ParseRate(text)
		assert.Error(t, err, text)
	}
}

func TestParseWithin(t *testing.T) {
	got, err := ParseWithin("0.25deg,0.05cm")
	require.NoError(t, err)
	assert.Equal(t, DefaultWithin(), got)
	got, err = ParseWithin("1cm, 2deg, 0.5%")
	require.NoError(t, err)
	assert.Equal(t, Within{TurnDeg: 2, MoveCM: 1, ScalePercent: 0.5, WeightPercent: 0.5, WorldCM: 10}, got)
	assert.Equal(t, "2deg,1cm,0.5%", got.String())
	got, err = ParseWithin("0.1cm-world,0.05cm")
	require.NoError(t, err)
	assert.Equal(t, Within{TurnDeg: 0.25, MoveCM: 0.05, ScalePercent: 0.1, WeightPercent: 0.5, WorldCM: 0.1}, got)
	assert.Equal(t, "0.25deg,0.05cm,0.1cm-world", got.String())
	got, err = ParseWithin("2%-weight,1deg")
	require.NoError(t, err)
	assert.Equal(t, Within{TurnDeg: 1, MoveCM: 0.05, ScalePercent: 0.1, WeightPercent: 2, WorldCM: 0.5}, got)
	assert.Equal(t, "1deg,0.05cm,2%-weight", got.String())
	for _, text := range []string{"", "1", "0deg", "-1cm", "1mm", "deg", "1deg,,2cm", "NaNdeg"} {
		_, err := ParseWithin(text)
		assert.Error(t, err, text)
	}
}
