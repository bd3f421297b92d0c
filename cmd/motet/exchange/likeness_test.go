package exchange

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/qmuntal/gltf"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/lint/motion"
	"github.com/motet-sheet/motet/lint/motion/reference"
)

// likenessOf compares a take, after a test has changed its file, with its sheet.
func likenessOf(t testing.TB, m *motion.Motion, take *Take, change func(file *gltf.Document)) *Likeness {
	t.Helper()
	data, err := WriteGLB([]*Take{take})
	require.NoError(t, err)
	l, err := LikenessToSheet(m, changed(t, data, change), "")
	require.NoError(t, err)
	return l
}

// changed reads a .glb whose JSON a test has changed.
func changed(t testing.TB, data []byte, change func(file *gltf.Document)) *Document {
	t.Helper()
	text, body, err := unpack(data)
	require.NoError(t, err)
	file, err := parse(text)
	require.NoError(t, err)
	if change != nil {
		change(file)
	}
	doc := &Document{Path: "clip.glb"}
	doc.nodes, err = readNodes(file)
	require.NoError(t, err)
	doc.blends = readBlends(file)
	require.NoError(t, doc.readClips(file, newStorage(file, body, len(data), "", nil)))
	return doc
}

// The whole cast as it is exported is its sheets' motion, no farther off than the export says, and so is what is baked.
func TestExportsAreTheirSheets(t *testing.T) {
	for name, m := range cast(t) {
		take, err := NewTake(m, TakeWish{})
		require.NoError(t, err)
		l := likenessOf(t, m, take, nil)
		assert.True(t, l.Within(LikenessLimits{TurnDeg: 0.15, PlaceCM: ExportWithin().WorldCM * 1.01, Frames: 0.01}), "%s: %+v", name, l)
		assert.Empty(t, l.Missing)
		assert.Equal(t, m.Sheet.Closed, l.Seam != nil)
		assert.Zero(t, l.Rate)

		if testing.Short() {
			continue
		}
		baked, err := NewTake(m, TakeWish{Bake: Rate{30, 1}})
		require.NoError(t, err)
		l = likenessOf(t, m, baked, nil)
		assert.True(t, l.Within(LikenessLimits{TurnDeg: 0.1, PlaceCM: 0.01, Frames: 0.01}), "%s: %+v", name, l)
		assert.Equal(t, Rate{30, 1}, l.Rate, name)
	}
}

// A clip with one joint turned by 2° all the time is not the sheet's motion, whichever joint it is: that joint and all
// that it carries are turned by 2°, everything else is as it was, and the trouble begins at that joint.
func TestOneJointTurned(t *testing.T) {
	long(t)
	m := cast(t)["keeper"]
	take, err := NewTake(m, TakeWish{})
	require.NoError(t, err)
	turned := 0
	for i := range take.tracks {
		if take.tracks[i].property != turns {
			continue
		}
		turned++
		bent := *take
		bent.tracks = append([]track(nil), take.tracks...)
		track := &bent.tracks[i]
		track.values = append([]float64(nil), track.values...)
		for k := 0; k < len(track.values); k += 4 {
			q := quat(track.values[k : k+4]).after(quat(aboutAxis(turned%3, 2)))
			copy(track.values[k:], q[:])
		}
		l := likenessOf(t, m, &bent, nil)
		own := m.Rig.Joints[track.node].Name
		require.False(t, l.Within(DefaultLikeness()), own)
		for j := range l.Joints {
			joint := &l.Joints[j]
			if !below(m, j, track.node) {
				require.Less(t, joint.Share(DefaultLikeness()), 0.5, "%s beside %s", joint.Joint, own)
				continue
			}
			require.InDelta(t, 2, joint.Turn.Largest, 0.1, "%s on %s", joint.Joint, own)
			require.InDelta(t, 2, joint.Turn.Mean, 0.05, "%s on %s", joint.Joint, own)
		}
		assert.InDelta(t, 0, l.Seam.TurnDeg, 1e-3)
	}
	assert.Greater(t, turned, 15)
}

// below tells whether a joint is another one or hangs on it.
func below(m *motion.Motion, joint, other int) bool {
	for ; joint >= 0; joint = m.Rig.Joints[joint].Parent {
		if joint == other {
			return true
		}
	}
	return false
}

// Another unit of length and other axes are taken off, and told; a shift, a size of no unit, and a slant are differences.
func TestUnitsAndAxesOfAClip(t *testing.T) {
	m := cast(t)["keeper"]
	take, err := NewTake(m, TakeWish{})
	require.NoError(t, err)
	above := func(own gltf.Node) func(file *gltf.Document) {
		return func(file *gltf.Document) {
			own.Name, own.Children = "World", file.Scenes[0].Nodes
			file.Nodes = append(file.Nodes, &own)
		}
	}
	half := math.Sqrt(0.5)
	for name, test := range map[string]struct {
		own  gltf.Node
		size float64
		axes string
		same bool
	}{
		"as it was":         {gltf.Node{}, 1, "", true},
		"centimetres":       {gltf.Node{Scale: [3]float64{100, 100, 100}}, 100, "", true},
		"inches":            {gltf.Node{Scale: [3]float64{1 / 0.0254, 1 / 0.0254, 1 / 0.0254}}, 1 / 0.0254, "", true},
		"z up":              {gltf.Node{Rotation: [4]float64{half, 0, 0, half}}, 1, "x -z y", true},
		"backward, in feet": {gltf.Node{Rotation: [4]float64{0, 1, 0, 0}, Scale: [3]float64{1 / 0.3048, 1 / 0.3048, 1 / 0.3048}}, 1 / 0.3048, "-x y -z", true},
		"shifted":           {gltf.Node{Translation: [3]float64{0.02, 0, 0}}, 1, "", false},
		"larger":            {gltf.Node{Scale: [3]float64{1.05, 1.05, 1.05}}, 1, "", false},
		"slanted":           {gltf.Node{Rotation: quat(aboutAxis(2, 3))}, 1, "", false},
	} {
		t.Run(name, func(t *testing.T) {
			l := likenessOf(t, m, take, above(test.own))
			assert.Equal(t, test.same, l.Within(DefaultLikeness()))
			assert.InDelta(t, test.size, l.Size, 1e-9)
			assert.Equal(t, test.axes, l.Axes)
			if test.same {
				place, turn, _, _ := l.Largest()
				assert.Less(t, place.Largest, 0.011)
				assert.Less(t, turn.Largest, 0.1)
			}
		})
	}
}

// What a clip may lack: nodes, length, its closing frame; and what it may say of the sheet.
func TestWhatAClipLacks(t *testing.T) {
	m := coatSheet(t, "wait")
	take, err := NewTake(m, TakeWish{})
	require.NoError(t, err)
	rename := func(name string) func(file *gltf.Document) {
		return func(file *gltf.Document) { file.Nodes[1].Name = name }
	}
	l := likenessOf(t, m, take, rename("thorax"))
	assert.Equal(t, []string{"chest"}, l.Lost)
	assert.False(t, l.Within(DefaultLikeness()))
	l = likenessOf(t, m, take, rename("Che_st"))
	assert.Equal(t, [][2]string{{"chest", "Che_st"}}, l.Respelled)
	assert.Empty(t, l.Missing)
	assert.True(t, l.Within(DefaultLikeness()))
	l = likenessOf(t, m, take, func(file *gltf.Document) {
		file.Nodes[1].Name = "Che_st"
		file.Nodes = append(file.Nodes, &gltf.Node{Name: "che st"})
	})
	assert.Equal(t, []string{"chest"}, l.Lost, "two nodes might be meant")
	_, err = LikenessToSheet(m, changed(t, mustGLB(t, take), func(file *gltf.Document) {
		file.Nodes[0].Name, file.Nodes[1].Name = "a", "b"
	}), "")
	require.ErrorContains(t, err, `clip.glb: clip "wait": the file has none of the joints, such as "hips"`)
	_, err = LikenessToSheet(m, changed(t, mustGLB(t, take), func(file *gltf.Document) {
		file.Nodes = append(file.Nodes, &gltf.Node{Name: "chest"})
	}), "")
	require.ErrorContains(t, err, "joint `chest`: nodes 1 and 2 are both called \"chest\"")
	_, err = LikenessToSheet(m, changed(t, mustGLB(t, take), nil), "wave")
	require.ErrorContains(t, err, `the file has no clip "wave"; the clips are wait`)

	// A clip that begins late, as some packages write them, is the motion all the same; one that is stretched is not.
	shifted, stretched, cut := *take, *take, *take
	shifted.tracks, stretched.tracks, cut.tracks = nil, nil, nil
	for _, track := range take.tracks {
		late, slow := track, track
		late.times, slow.times = nil, nil
		for _, at := range track.times {
			late.times, slow.times = append(late.times, at+0.5), append(slow.times, at*1.02)
		}
		shifted.tracks, stretched.tracks = append(shifted.tracks, late), append(stretched.tracks, slow)
	}
	l = likenessOf(t, m, &shifted, nil)
	assert.True(t, l.Within(LikenessLimits{TurnDeg: 0.1, PlaceCM: 0.011, Frames: 0.01}))
	l = likenessOf(t, m, &stretched, nil)
	assert.False(t, l.Lasts(DefaultLikeness()))
	assert.InDelta(t, 2.04, l.ClipSeconds, 1e-6)

	// Without its closing frame a baked loop has the rest of the motion, and gapes.
	baked, err := NewTake(m, TakeWish{Bake: Rate{24, 1}})
	require.NoError(t, err)
	for _, track := range baked.tracks {
		last := len(track.times) - 1
		track.times, track.values = track.times[:last], track.values[:last*track.width]
		cut.tracks = append(cut.tracks, track)
	}
	l = likenessOf(t, m, &cut, nil)
	assert.False(t, l.Lasts(DefaultLikeness()))
	place, _, _, _ := l.Largest()
	assert.Less(t, place.Largest, 1e-3)
	assert.Greater(t, l.Seam.TurnDeg, 0.02)
	assert.Contains(t, []string{"hips", "chest"}, l.Seam.TurnJoint)

	other := coatSheet(t, "wait")
	l = likenessOf(t, other, take, nil)
	require.Len(t, l.Versions, 2)
	assert.True(t, l.Versions[0].Same() && l.Versions[1].Same())
	other.File.Text += "# another word\n"
	l = likenessOf(t, other, take, nil)
	assert.False(t, l.Versions[0].Same())
	assert.True(t, l.Within(DefaultLikeness()))
}

func mustGLB(t testing.TB, takes ...*Take) []byte {
	t.Helper()
	data, err := WriteGLB(takes)
	require.NoError(t, err)
	return data
}

// A clip that went into the animator's own file is the sheet's motion under an armature that turns and shrinks it, and
// is told from the other clips by its name.
func TestLikenessInsideACharacter(t *testing.T) {
	m := coatSheet(t, "wait")
	take, err := NewTake(m, TakeWish{})
	require.NoError(t, err)
	data, err := Into("character.glb", characters()["character.glb"], take)
	require.NoError(t, err)
	d := changed(t, data, nil)
	require.Len(t, d.Clips, 2)
	l, err := LikenessToSheet(m, d, "")
	require.NoError(t, err)
	assert.Equal(t, "wait", l.Clip)
	assert.True(t, l.Within(LikenessLimits{TurnDeg: 0.1, PlaceCM: 0.011, Frames: 0.01}), "%+v", l)
	assert.Equal(t, 1.0, l.Size)

	// Clip against clip: with itself nothing, with the other one much.
	l, err = LikenessOfClips(d, "wait", d, "wait")
	require.NoError(t, err)
	assert.True(t, l.Within(LikenessLimits{TurnDeg: 1e-9, PlaceCM: 1e-9, Frames: 1e-9}))
	assert.NotNil(t, l.Seam)
	l, err = LikenessOfClips(d, "wait", d, "bow")
	require.NoError(t, err)
	assert.False(t, l.Within(DefaultLikeness()))
	_, err = LikenessOfClips(d, "wait", d, "")
	require.ErrorContains(t, err, "choose one with --clip")
}

// A request and the answer of pack.mjs.
type packing struct {
	Path      string  `json:"path"`
	Out       string  `json:"out,omitempty"`
	Tolerance float64 `json:"tolerance"`
	Bits      int     `json:"bits"`
	Meshopt   string  `json:"meshopt,omitempty"`
}

type packed struct {
	Keys int
	MS   float64
}

// What a build makes of baked clips: keys dropped by the resample of `@gltf-transform/functions` at its own tolerance, and
// turns packed into 16 bits, are still the sheet's motion; in 8 bits they are not. How far off they are a witness finds
// too, that shares nothing with the comparison but the sheet.
func TestPackedClipsAreTheirSheets(t *testing.T) {
	folder := t.TempDir()
	var requests []packing
	motions := cast(t)
	names := []string{"keeper", "netmender", "cooper"}
	for _, name := range names {
		_, file := exported(t, TakeWish{Bake: Rate{30, 1}}, motions[name])
		requests = append(requests,
			packing{Path: file, Out: filepath.Join(folder, name+"-16.glb"), Tolerance: 1e-4, Bits: 16},
			packing{Path: file, Out: filepath.Join(folder, name+"-8.glb"), Bits: 8})
	}
	var answers []packed
	reference.Ask(t, "pack.mjs", requests, &answers)
	for i, request := range requests {
		m := motions[names[i/2]]
		l, err := LikenessToSheet(m, read(t, request.Out), "")
		require.NoError(t, err)
		require.Equal(t, request.Bits == 16, l.Within(DefaultLikeness()), "%s: %+v", request.Out, l.Joints)
		place, turn, _, _ := l.Largest()
		t.Logf("%s: %d keys, off by %.3f cm and %.3f°", filepath.Base(request.Out), answers[i].Keys, place.Largest, turn.Largest)
		if request.Bits != 16 {
			continue
		}
		data, err := os.ReadFile(request.Out)
		require.NoError(t, err)
		witness := newWitness(t, unquantised(t, data), 0)
		worst := 0.0
		for k := range l.Moments {
			seconds := math.Min(float64(k)/l.Rate.perSecond(), l.Seconds)
			asked := math.Min(seconds+behindFrame*l.Frame, l.Seconds)
			places, _ := witness.places(asked)
			world := m.World(atMoment(m, math.Min(asked/l.Frame, m.Sheet.Length.Float())))
			for j := range m.Rig.Joints {
				node := nodeNamed(t, witness.doc, m.Rig.Joints[j].Name)
				worst = math.Max(worst, vec3(places[node]).to(vec3(world[j].Position())))
			}
		}
		assert.InDelta(t, worst, place.Largest, 1e-4)
	}
}

// unquantised writes a .glb anew with its turns as 32-bit numbers, by the library's own reading, for a witness that reads
// no others.
func unquantised(t testing.TB, data []byte) []byte {
	t.Helper()
	text, body, err := unpack(data)
	require.NoError(t, err)
	file, err := parse(text)
	require.NoError(t, err)
	for i, a := range file.Accessors {
		if a.ComponentType == gltf.ComponentFloat {
			continue
		}
		view := file.BufferViews[*a.BufferView]
		stride := view.ByteStride
		if stride == 0 {
			stride = 8
		}
		var numbers []byte
		for k := range a.Count {
			for part := range 4 {
				at := view.ByteOffset + a.ByteOffset + k*stride + 2*part
				v := int16(uint16(body[at]) | uint16(body[at+1])<<8)
				numbers = appendFloats(numbers, []float64{math.Max(-1, float64(v)/32767)})
			}
		}
		for len(body)%4 != 0 {
			body = append(body, 0)
		}
		own := len(file.BufferViews)
		file.BufferViews = append(file.BufferViews, &gltf.BufferView{Buffer: 0, ByteOffset: len(body), ByteLength: len(numbers)})
		body = append(body, numbers...)
		file.Accessors[i] = &gltf.Accessor{BufferView: &own, ComponentType: gltf.ComponentFloat, Type: gltf.AccessorVec4, Count: a.Count}
	}
	file.Buffers[0].Data, file.Buffers[0].ByteLength = body, len(body)
	return glb(t, file)
}

func nodeNamed(t testing.TB, file *gltf.Document, name string) int {
	t.Helper()
	for i, n := range file.Nodes {
		if n.Name == name {
			return i
		}
	}
	t.Fatalf("there is no node %q", name)
	return -1
}

func TestParseLikeness(t *testing.T) {
	got, err := ParseLikeness("1cm")
	require.NoError(t, err)
	assert.Equal(t, LikenessLimits{TurnDeg: 1, PlaceCM: 1, WeightPercent: 2, Frames: 0.5}, got)
	got, err = ParseLikeness(DefaultLikeness().String())
	require.NoError(t, err)
	assert.Equal(t, DefaultLikeness(), got)
	for _, text := range []string{"", "0cm", "1", "2%%", "-1deg", "1f,", strings.Repeat("9", 400) + "f"} {
		_, err := ParseLikeness(text)
		assert.ErrorContains(t, err, "write limits such as 1deg,0.5cm", text)
	}
}
