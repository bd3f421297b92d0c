package exchange

import (
	"math"
	"strings"
	"testing"

	"github.com/qmuntal/gltf"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/motet-sheet/motet/lint/motion"
)

// Everything that makes exported clips hard, in one file: see lampKeeper.
func TestImportOfAnExportersClip(t *testing.T) {
	r, data := importPuppet(t, lampKeeper(60, 30), Options{})
	requireWithin(t, DefaultWithin(), compare(t, r, data, 0))
	assert.Equal(t, Closes, r.Loop)
	assert.Equal(t, "wait-for-tide.motet", r.SheetFile)
	assert.Equal(t, "lamp-rig.motet", r.RigFile)

	m := resolve(t, r)
	assert.Equal(t, "30", m.Sheet.Rate.String(), "frames a second, from the spacing of the keys")
	assert.Equal(t, 60.0, m.Sheet.Length.Float(), "the offset of two frames is gone")
	hips := m.Rig.Joints[m.Rig.JointIndex("hips")]
	assert.Equal(t, [3]float64{0, 0, -96}, hips.Rest, "centimetres below the root's scale of 0.01")
	assert.Equal(t, [3]float64{90, 0, 0}, m.Rig.Joints[m.Rig.JointIndex("stand")].RestTurn)
	assert.Contains(t, r.RigText, `# node 0 "Stand" scale 0.01`)
	assert.Equal(t, "arm.right", m.Rig.Mirrored("arm.left"))

	var paths []string
	for _, c := range r.Channels {
		paths = append(paths, c.Path)
	}
	// The head's move by float noise is no channel, nor are legs and feet, which stay.
	assert.Equal(t, []string{"hips/side", "hips/up", "hips/tilt", "spine/lean", "head/turn", "arm.left/turn-y", "hand.left/turn-y", "arm.right/turn-y", "hand.right/turn-z"}, paths)
	side := m.Rig.Channels[m.Rig.DialIndex("hips/side")]
	assert.True(t, side.Flips)
	up := m.Rig.Channels[m.Rig.DialIndex("hips/up")]
	assert.False(t, up.Flips)
	assert.Equal(t, -1.0, up.Drives[0].Gain, "the root's turn points its z axis down")
	assert.Less(t, 5*r.Keys, r.Baked)
}

// One file always makes one sheet: what is fitted at the same time does not meet.
func TestImportIsTheSameEachTime(t *testing.T) {
	first, _ := importPuppet(t, lampKeeper(60, 30), Options{})
	for range 5 {
		again, _ := importPuppet(t, lampKeeper(60, 30), Options{})
		require.Equal(t, first, again)
	}
}

// A turn of a limb mirrors into the other side's so that both go up, or both ahead.
func TestMirrorsOfLimbs(t *testing.T) {
	r, _ := importPuppet(t, lampKeeper(60, 30), Options{})
	m := resolve(t, r)
	place := func(joint string, channel string, value float64) [3]float64 {
		values := m.Values(0, nil)
		for i := range values {
			values[i] = m.Rig.Channels[i].Rest
		}
		values[m.Rig.DialIndex(channel)] = value
		return position(m.Rig.World(m.Rig.Pose(values, nil), nil)[m.Rig.JointIndex(joint)])
	}
	left := place("hand.left", "arm.left/turn-y", 20)
	sign := 1.0
	if m.Rig.Channels[m.Rig.DialIndex("arm.left/turn-y")].Flips {
		sign = -1
	}
	right := place("hand.right", "arm.right/turn-y", 20*sign)
	assert.InDeltaSlice(t, []float64{-left[0], left[1], left[2]}, right[:], 1e-6)
}

func position(t motion.Transform) [3]float64 { return t.Position() }

// Every interpolation comes out as what it says, on one joint's moves.
func TestImportOfInterpolations(t *testing.T) {
	node := func() []*gltf.Node {
		return []*gltf.Node{{Name: "Buoy", Rotation: gltf.DefaultRotation, Scale: gltf.DefaultScale}}
	}
	for name, c := range map[string]struct {
		track trackSpec
		keys  int
		rows  []string
	}{
		"held": {
			track: trackSpec{path: gltf.TRSTranslation, kind: gltf.InterpolationStep, times: []float32{0, 0.5, 1.25, 2}, values: [][]float32{{0, 0, 0}, {0, 0.1, 0}, {0, -0.2, 0}, {0, 0, 0}}},
			keys:  3, rows: []string{"0f 0=", "12f 10=", "30f -20="},
		},
		"straight": {
			track: trackSpec{path: gltf.TRSTranslation, times: []float32{0, 0.5, 1.25, 2}, values: [][]float32{{0, 0, 0}, {0, 0.1, 0}, {0, -0.2, 0}, {0, 0, 0}}},
			keys:  3, rows: []string{"0f 0>", "12f 10>", "30f -20>"},
		},
		"curved": {
			track: trackSpec{path: gltf.TRSTranslation, kind: gltf.InterpolationCubicSpline, times: []float32{0, 0.5, 1.25, 2}, values: [][]float32{
				{0, 0.2, 0}, {0, 0, 0}, {0, 0.2, 0}, {0, 0, 0}, {0, 0.1, 0}, {0, 0, 0}, {0, -0.1, 0}, {0, -0.2, 0}, {0, -0.1, 0}, {0, 0.2, 0}, {0, 0, 0}, {0, 0.2, 0},
			}},
			keys: 3,
		},
	} {
		t.Run(name, func(t *testing.T) {
			p := puppet{nodes: node(), clips: []clipSpec{{name: "Bob", tracks: []trackSpec{c.track}}}}
			r, data := importPuppet(t, p, Options{})
			requireWithin(t, DefaultWithin(), compare(t, r, data, 0))
			assert.LessOrEqual(t, r.Keys, c.keys, r.SheetText)
			for _, row := range c.rows {
				assert.Contains(t, strings.Join(strings.Fields(r.SheetText), " "), row)
			}
			// Between frames too: curves are curves, holds hold, lines are straight.
			m, w := resolve(t, r), newWitness(t, data, 0)
			for f := 0.0; f < 48; f += 0.25 {
				assert.InDelta(t, 100*w.tracks[[2]int{0, int(gltf.TRSTranslation)}].at(f / 24)[1], m.Channels[0].At(f), 0.06, "frame %g", f)
			}
		})
	}
}

// Scales are per cent of rest; three alike are one channel; a rest of 0.01 folds into the
// offsets below; a matrix is taken apart.
func TestImportOfScales(t *testing.T) {
	half := math.Sqrt(0.5)
	p := puppet{nodes: []*gltf.Node{
		{Name: "Rig", Matrix: [16]float64{0.01, 0, 0, 0, 0, 0, -0.01, 0, 0, 0.01, 0, 0, 1, 0, 0, 1}, Children: []int{1}},
		{Name: "Bellows", Translation: [3]float64{0, 0, 100}, Rotation: [4]float64{half, 0, 0, half}, Scale: [3]float64{2, 2, 2}, Children: []int{2}},
		{Name: "Lid", Translation: [3]float64{0, 10, 0}, Rotation: gltf.DefaultRotation, Scale: gltf.DefaultScale},
	}}
	p.clips = []clipSpec{{name: "Breathe", tracks: []trackSpec{
		baked(1, gltf.TRSScale, 24, 0, 48, func(f float64) []float64 {
			s := 2 + wave(f, 48, 1, 0.1)
			return []float64{s, s, s}
		}),
		baked(2, gltf.TRSScale, 24, 0, 48, func(f float64) []float64 {
			return []float64{1 + wave(f, 48, 2, 0.05), 1, 1 + wave(f, 48, 2, 0.05)}
		}),
	}}}
	r, data := importPuppet(t, p, Options{})
	requireWithin(t, DefaultWithin(), compare(t, r, data, 0))
	m := resolve(t, r)
	assert.InDeltaSlice(t, []float64{0, 20, 0}, m.Rig.Joints[2].Rest[:], 1e-6, "0.01 × 2 × 100 × 10")
	require.Len(t, m.Rig.Channels, 2)
	assert.Equal(t, "bellows/scale", m.Rig.Channels[0].Path)
	assert.Equal(t, "lid/scale-xz", m.Rig.Channels[1].Path)
	assert.InDelta(t, 105, m.Channels[0].At(12), 0.1)
	assert.InDelta(t, 95, m.Channels[1].At(18), 0.1)
	assert.LessOrEqual(t, r.Off.ScalePercent, 0.1)
}

// A hand whose fingers curl together, each by its own share, is one dial; the other hand
// follows the same finger, and the elbow has nothing to do with either.
func TestDials(t *testing.T) {
	var p puppet
	add := func(name string, place [3]float64, children ...int) {
		p.nodes = append(p.nodes, &gltf.Node{Name: name, Translation: place, Rotation: gltf.DefaultRotation, Scale: gltf.DefaultScale, Children: children})
	}
	add("Chest", [3]float64{0, 1.3, 0}, 1, 8)
	for s, side := range []string{"L", "R"} {
		x := 1 - 2*float64(s)
		at := 1 + 7*s
		add("Arm."+side, [3]float64{0.2 * x, 0, 0}, at+1)
		add("Hand."+side, [3]float64{0.5 * x, 0, 0}, at+2, at+4)
		add("Index1."+side, [3]float64{0.08 * x, 0, 0.02}, at+3)
		add("Index2."+side, [3]float64{0.04 * x, 0, 0})
		add("Ring1."+side, [3]float64{0.08 * x, 0, -0.02}, at+5)
		add("Ring2."+side, [3]float64{0.04 * x, 0, 0}, at+6)
		add("Ring3."+side, [3]float64{0.03 * x, 0, 0})
	}
	curl := func(f float64) float64 { return wave(f, 48, 1, 1) + wave(f, 48, 3, 0.3) }
	p.clips = []clipSpec{{name: "Curl"}}
	turn := func(node int, size, offset float64) {
		p.clips[0].tracks = append(p.clips[0].tracks, baked(node, gltf.TRSRotation, 24, 0, 48, func(f float64) []float64 {
			return aboutAxis(2, offset+size*curl(f))
		}))
	}
	turn(1, 10, 0)
	for at, sign := range map[int]float64{3: -1, 10: 1} {
		turn(at, 20*sign, 5*sign)
		turn(at+1, 12*sign, 8*sign)
		turn(at+2, 30*sign, 0)
		turn(at+3, 15*sign, 3*sign)
	}
	r, data := importPuppet(t, p, Options{})
	requireWithin(t, DefaultWithin(), compare(t, r, data, 0))
	m := resolve(t, r)
	var paths []string
	for i := range m.Rig.Channels {
		paths = append(paths, m.Rig.Channels[i].Path)
	}
	assert.Equal(t, []string{"arm.left/turn-z", "hand.left/curl", "hand.right/curl"}, paths)
	l, rr := m.Rig.Channels[1], m.Rig.Channels[2]
	require.Len(t, l.Drives, 4)
	// The ring finger moves most and leads; the gains are the shares of its size.
	assert.Equal(t, "ring1.left", m.Rig.Joints[l.Drives[0].Joint].Name)
	assert.Equal(t, "ring1.right", m.Rig.Joints[rr.Drives[0].Joint].Name)
	gains := map[string]float64{}
	for _, d := range l.Drives {
		gains[m.Rig.Joints[d.Joint].Name] = d.Gain
	}
	assert.InDelta(t, 20.0/30, gains["index1.left"], 0.001)
	assert.InDelta(t, 12.0/30, gains["index2.left"], 0.001)
	assert.InDelta(t, 0.5, gains["ring2.left"], 0.001)
	assert.True(t, l.Flips && rr.Flips, "the hands turn about one axis, so the mirror changes the sign")
}

func TestChoosingAClip(t *testing.T) {
	p := lamp()
	p.clips = append(p.clips, p.clips[0], clipSpec{name: "Flicker!", tracks: p.clips[0].tracks})
	read := inMemory(map[string][]byte{"a.glb": glb(t, p.document(t))})
	_, err := Import(Options{Path: "a.glb", ReadFile: read})
	var choice *ClipChoice
	require.ErrorAs(t, err, &choice)
	assert.Equal(t, []string{"sway", "sway-2", "flicker"}, choice.Clips)
	_, err = Import(Options{Path: "a.glb", ReadFile: read, Clip: "glow"})
	assert.EqualError(t, err, `a.glb: the file has no clip "glow"; the clips are sway, sway-2, flicker`)
	for _, clip := range []string{"flicker", "Flicker!"} {
		r, err := Import(Options{Path: "a.glb", ReadFile: read, Clip: clip})
		require.NoError(t, err)
		assert.Equal(t, "flicker", r.SheetName)
	}
	p.clips = nil
	_, err = Import(Options{Path: "a.glb", ReadFile: inMemory(map[string][]byte{"a.glb": glb(t, p.document(t))})})
	assert.ErrorContains(t, err, "the file has no animation")
}

func TestListOfClips(t *testing.T) {
	p := lampKeeper(60, 30)
	p.clips = append(p.clips, clipSpec{name: "Nod", tracks: []trackSpec{baked(3, gltf.TRSRotation, 24, 0, 24, func(f float64) []float64 { return aboutAxis(0, f) })}})
	list := List(readPuppet(t, p))
	require.Len(t, list, 2)
	assert.Equal(t, ClipInfo{
		Name: "Stand|Wait_For_Tide|Base", Word: "wait-for-tide", Seconds: list[0].Seconds, Frames: 60, Rate: Rate{30, 1}, Even: true,
		Joints: 12, MovingJoints: 7, Loop: Closes, Gap: list[0].Gap,
	}, list[0])
	assert.InDelta(t, 2, list[0].Seconds, 1e-6)
	assert.Equal(t, Open, list[1].Loop)
	assert.InDelta(t, 24, list[1].Gap.TurnDeg, 1e-4)
	assert.Equal(t, "Keeper_Head", list[1].Gap.TurnJoint)
	assert.Contains(t, list[1].String(), `no loop: 24° at "Keeper_Head"`)
}

// Another rate than the clip's own samples it there; a clip of no whole number of frames is
// stretched to one, and said to be.
func TestRatesAskedFor(t *testing.T) {
	r, _ := importPuppet(t, lampKeeper(60, 30), Options{Rate: Rate{24, 1}})
	assert.Contains(t, r.SheetText, "  rate      24 fps\n")
	assert.Equal(t, 48.0, resolve(t, r).Sheet.Length.Float())
	r, _ = importPuppet(t, lampKeeper(61, 30), Options{Rate: Rate{24, 1}})
	assert.Equal(t, 49.0, resolve(t, r).Sheet.Length.Float())
	assert.Contains(t, strings.Join(r.Report, "\n"), "the clip is 48.8 frames long at 24 fps; the sheet has 49")
}

func TestAClipOfOnePose(t *testing.T) {
	p := lamp()
	p.clips[0].tracks[0].times, p.clips[0].tracks[0].values = []float32{3}, [][]float32{{0, 0.6, 0, 0.8}}
	r, _ := importPuppet(t, p, Options{})
	m := resolve(t, r)
	assert.Empty(t, m.Rig.Channels)
	assert.InDelta(t, 2*math.Asin(0.6)*180/math.Pi, m.Rig.Joints[0].RestTurn[1], 1e-3)
}

// The comment of a joint and the strings of both files hold whatever a file calls its nodes.
func TestNamesThatWouldBreakALine(t *testing.T) {
	p := lampKeeper(24, 24)
	p.nodes[1].Name = "Hips\"\n# track x\u2028\\ {\x00}"
	p.nodes[2].Name = "…"
	p.nodes[3].Name = ""
	p.clips[0].name = "\"\r\nsheet evil\n"
	data := glb(t, p.document(t))
	path := "folk/in \"quotes\" #1.glb"
	r, err := Import(Options{Path: path, ReadFile: inMemory(map[string][]byte{path: data})})
	require.NoError(t, err)
	requireWithin(t, DefaultWithin(), compare(t, r, data, 0))
}

// Any motion of a small tree of joints is kept within any limits, in the eyes of a witness.
func TestAnyMotionIsKept(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		frames := rapid.IntRange(6, 40).Draw(r, "frames")
		draw := rapid.Float64Range(-1, 1)
		within := Within{TurnDeg: rapid.Float64Range(0.05, 2).Draw(r, "deg"), MoveCM: 0.05, ScalePercent: 0.2, WeightPercent: 0.5, WorldCM: rapid.Float64Range(0.02, 2).Draw(r, "cm")}
		loop := rapid.Bool().Draw(r, "loop")
		var p puppet
		p.clips = []clipSpec{{name: "any"}}
		for i := range 3 {
			q := vec3{draw.Draw(r, "qx"), draw.Draw(r, "qy"), draw.Draw(r, "qz")}
			rest := quat{q[0], q[1], q[2], 1}.normal()
			n := &gltf.Node{Rotation: rest, Scale: gltf.DefaultScale, Translation: [3]float64{draw.Draw(r, "x"), draw.Draw(r, "y"), draw.Draw(r, "z")}}
			if i < 2 {
				n.Children = []int{i + 1}
			}
			p.nodes = append(p.nodes, n)
			size, phase := vec3{}, vec3{}
			for axis := range 3 {
				size[axis], phase[axis] = 60*draw.Draw(r, "size"), 3*draw.Draw(r, "phase")
			}
			p.clips[0].tracks = append(p.clips[0].tracks, baked(i, gltf.TRSRotation, 24, 0, frames, func(f float64) []float64 {
				var angles vec3
				for axis := range 3 {
					angles[axis] = size[axis] * math.Sin(2*math.Pi*f/float64(frames)+phase[axis])
					if !loop {
						angles[axis] += f
					}
				}
				turned := rest.after(orders()[0].quat(angles))
				return turned[:]
			}))
		}
		res, data := importPuppet(t, p, Options{Within: within})
		if res.Loop == Joined {
			return // Its ends were drawn together by more than the limits, as the report says.
		}
		off := compare(t, res, data, 0)
		if off.turnDeg > within.TurnDeg || off.worldCM > within.WorldCM {
			r.Fatalf("off by %g° and %g cm, within %s:\n%s\n%s", off.turnDeg, off.worldCM, within, strings.Join(res.Report, "\n"), res.SheetText)
		}
	})
}
