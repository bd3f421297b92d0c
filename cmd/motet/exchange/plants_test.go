package exchange

import (
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/qmuntal/gltf"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/motet-sheet/motet/lint"
	"github.com/motet-sheet/motet/lint/motion"
)

// A docker stands on two legs that are solved in the plane by the law of cosines, independently of the project's own
// solver: for each frame the test says where hips and ankles are. The left arm does the same in the frontal plane.
type docker struct {
	frames  int
	hips    func(frame float64) (up, ahead float64)           // metres
	ankle   func(side int, frame float64) (up, ahead float64) // metres, in the world
	heel    func(side int, frame float64) float64             // how far the foot is pitched, degrees; flat where nil
	hand    func(frame float64) (side, up float64)            // metres from the chest's origin, in the world; nil leaves the arm hanging
	tiltDeg func(frame float64) float64                       // of the hips, to their left
	// chestDeg is how far the chest tilts on the hips.
	chestDeg func(frame float64) float64
}

const (
	thighM, shinM, upperArmM, forearmM = 0.42, 0.41, 0.29, 0.26
	hipUpM                             = -0.04
)

// bent are the angles of two bones in a plane, from straight down toward the side on which the middle bends, that bring
// the end to a place: of the upper bone, and of the lower one.
func bent(upper, lower, across, up float64) (first, second float64) {
	distance := math.Hypot(across, up)
	line := math.Atan2(across, -up)
	at := math.Acos((upper*upper + distance*distance - lower*lower) / (2 * upper * distance))
	first = line + at
	second = math.Atan2(across-upper*math.Sin(first), -(up + upper*math.Cos(first)))
	return first * degrees, second * degrees
}

func (d docker) puppet() puppet {
	node := func(name string, x, y, z float64, children ...int) *gltf.Node {
		return &gltf.Node{Name: name, Translation: [3]float64{x, y, z}, Rotation: gltf.DefaultRotation, Scale: gltf.DefaultScale, Children: children}
	}
	p := puppet{nodes: []*gltf.Node{
		node("Hips", 0, 0.9, 0, 1, 3, 7),
		node("Chest", 0, 0.4, 0, 2, 11, 14), node("Head", 0, 0.25, 0),
		node("Thigh.L", 0.09, hipUpM, 0, 4), node("Shin.L", 0, -thighM, 0, 5), node("Foot.L", 0, -shinM, 0, 6), node("Toe.L", 0, -0.05, 0.14),
		node("Thigh.R", -0.09, hipUpM, 0, 8), node("Shin.R", 0, -thighM, 0, 9), node("Foot.R", 0, -shinM, 0, 10), node("Toe.R", 0, -0.05, 0.14),
		node("UpperArm.L", 0.18, 0.05, 0, 12), node("Forearm.L", 0, -upperArmM, 0, 13), node("Hand.L", 0, -forearmM, 0),
		node("UpperArm.R", -0.18, 0.05, 0, 15), node("Forearm.R", 0, -upperArmM, 0, 16), node("Hand.R", 0, -forearmM, 0),
	}}
	c := clipSpec{name: "Wait"}
	add := func(node int, path gltf.TRSProperty, at func(frame float64) []float64) {
		c.tracks = append(c.tracks, baked(node, path, 24, 0, d.frames, at))
	}
	orNone := func(f func(float64) float64) func(float64) float64 {
		if f == nil {
			return func(float64) float64 { return 0 }
		}
		return f
	}
	tilt, chest := orNone(d.tiltDeg), orNone(d.chestDeg)
	add(0, gltf.TRSTranslation, func(f float64) []float64 {
		up, ahead := d.hips(f)
		return []float64{0, up, ahead}
	})
	add(0, gltf.TRSRotation, func(f float64) []float64 { return aboutAxis(2, tilt(f)) })
	add(1, gltf.TRSRotation, func(f float64) []float64 { return aboutAxis(2, chest(f)) })
	for side, thigh := range []int{3, 7} {
		if d.ankle == nil {
			break
		}
		angles := func(f float64) (float64, float64) {
			up, ahead := d.hips(f)
			ankleUp, ankleAhead := d.ankle(side, f)
			return bent(thighM, shinM, ankleAhead-ahead, ankleUp-up-hipUpM)
		}
		pitch := func(f float64) float64 {
			if d.heel == nil {
				return 0
			}
			return d.heel(side, f)
		}
		add(thigh, gltf.TRSRotation, func(f float64) []float64 { a, _ := angles(f); return aboutAxis(0, -a) })
		add(thigh+1, gltf.TRSRotation, func(f float64) []float64 { a, b := angles(f); return aboutAxis(0, a-b) })
		add(thigh+2, gltf.TRSRotation, func(f float64) []float64 { _, b := angles(f); return aboutAxis(0, b+pitch(f)) })
	}
	if d.hand != nil {
		// In the frontal plane the elbow goes out, to their left.
		angles := func(f float64) (float64, float64) {
			up, _ := d.hips(f)
			sine, cosine := math.Sincos(tilt(f) / degrees)
			shoulderSide, shoulderUp := -0.4*sine, up+0.4*cosine
			sine, cosine = math.Sincos((tilt(f) + chest(f)) / degrees)
			shoulderSide, shoulderUp = shoulderSide+0.18*cosine-0.05*sine, shoulderUp+0.18*sine+0.05*cosine
			side, high := d.hand(f)
			return bent(upperArmM, forearmM, side-shoulderSide, high-shoulderUp)
		}
		add(11, gltf.TRSRotation, func(f float64) []float64 { a, _ := angles(f); return aboutAxis(2, a-tilt(f)-chest(f)) })
		add(12, gltf.TRSRotation, func(f float64) []float64 { a, b := angles(f); return aboutAxis(2, b-a) })
	}
	p.clips = []clipSpec{c}
	return p
}

// sway is a body that sinks and sways ahead and back over its feet, once a cycle.
func sway(frames int) func(f float64) (up, ahead float64) {
	return func(f float64) (up, ahead float64) {
		return 0.84 + wave(f, float64(frames), 2, 0.02), wave(f, float64(frames), 1, 0.04)
	}
}

func onGround(side int, _ float64) (up, ahead float64) { return 0.06, 0.03 - 0.06*float64(side) }

// offHips moves a sheet's hips by an offset of its own, in a variant, as somebody who edits would.
func offHips(t *testing.T, r *Result, path string, byCM float64) *motion.Motion {
	t.Helper()
	edited := *r
	edited.SheetText = r.SheetText + "\ntrack " + strings.Split(path, "/")[0] + " in edit\n  at " + strings.Split(path, "/")[1] + "\n  0f " + number(byCM, 3) + "\n"
	texts := edited.SheetText
	edited.SheetText = pageOf(texts).text(edited.SheetFile)
	return resolve(t, &edited)
}

func pageOf(text string) *page {
	var p page
	p.WriteString(text)
	return &p
}

// The test of what a plant means: whoever moves the hips leaves the feet where they are.
func requireStands(t *testing.T, m *motion.Motion, joint string, from, to float64) {
	t.Helper()
	i := m.Rig.JointIndex(joint)
	require.GreaterOrEqual(t, i, 0)
	player := m.Player()
	first := player.Figure(from).World[i].Position()
	for f := from; f <= to; f += 0.5 {
		at := player.Figure(f).World[i].Position()
		require.InDeltaSlice(t, first[:], at[:], 1e-6, "%s at frame %g", joint, f)
	}
}

func TestFeetThatStandArePlanted(t *testing.T) {
	d := docker{frames: 72, hips: sway(72), ankle: onGround}
	r, data := importPuppet(t, d.puppet(), Options{})
	requireWithin(t, DefaultWithin(), compare(t, r, data, 0))
	assert.Equal(t, []PlantReport{{Goal: "foot.left", From: 0, To: 72}, {Goal: "foot.right", From: 0, To: 72}}, r.Plants)
	free, _ := importPuppet(t, d.puppet(), Options{NoPlants: true})
	assert.Empty(t, free.Plants)
	assert.NotContains(t, free.RigText+free.SheetText, "chains")
	t.Logf("%d keys, %d without plants", r.Keys, free.Keys)
	assert.Less(t, r.Keys, free.Keys)
	for _, m := range []*motion.Motion{resolve(t, r), offHips(t, r, "hips/ahead", 2), offHips(t, r, "hips/up", -2)} {
		requireStands(t, m, "foot.left", 0, 72)
		requireStands(t, m, "foot.right", 0, 72)
		for _, found := range lint.Check(m) {
			assert.NotContains(t, []string{"slide", "over-reach", "foot-home"}, found.Rule, found.Message)
		}
	}
	// Without plants they slide along.
	slid := offHips(t, free, "hips/ahead", 2)
	i := slid.Rig.JointIndex("foot.left")
	assert.InDelta(t, 2, slid.World(0)[i].Position()[2]-resolve(t, free).World(0)[i].Position()[2], 0.01)
}

// A walk goes ahead under feet that stand in turn. Each stands for half of a step, is carried ahead for the other, and
// its stretches are those that the walk was made with.
func TestAWalkersFeetArePlantedInTurn(t *testing.T) {
	const half = 14.0
	ankle := func(side int, f float64) (up, ahead float64) {
		f += half * float64(side)
		step := math.Floor(f / (2 * half))
		in := f - step*2*half
		ahead = 0.6*step - 0.3*float64(side) + 0.1
		if in <= half {
			return 0.06, ahead
		}
		u := (in - half) / half
		return 0.06 + 0.1*math.Sin(math.Pi*u)*math.Sin(math.Pi*u), ahead + 0.6*u*u*(3-2*u)
	}
	d := docker{frames: 84, ankle: ankle, hips: func(f float64) (up, ahead float64) {
		return 0.8 + wave(f, half, 1, 0.012), 0.6 * f / (2 * half)
	}}
	r, data := importPuppet(t, d.puppet(), Options{})
	requireWithin(t, DefaultWithin(), compare(t, r, data, 0))
	var want []PlantReport
	for from := 0; from < 84; from += 28 {
		want = append(want, PlantReport{Goal: "foot.left", From: from, To: from + 14})
	}
	for from := 14; from < 84; from += 28 {
		want = append(want, PlantReport{Goal: "foot.right", From: from, To: from + 14})
	}
	requirePlants(t, want, r.Plants, 1)
	free, _ := importPuppet(t, d.puppet(), Options{NoPlants: true})
	t.Logf("%d keys, %d without plants", r.Keys, free.Keys)
	m := offHips(t, r, "hips/up", -2)
	for _, p := range r.Plants {
		requireStands(t, m, p.Goal, float64(p.From), float64(p.To))
	}
}

// requirePlants holds plants to those that are meant, to so many frames.
func requirePlants(t *testing.T, want, have []PlantReport, frames float64) {
	t.Helper()
	require.Len(t, have, len(want), "%v", have)
	for i, p := range have {
		assert.Equal(t, want[i].Goal, p.Goal)
		assert.Equal(t, want[i].On, p.On)
		assert.InDelta(t, want[i].From, p.From, frames, "%v", have)
		assert.InDelta(t, want[i].To, p.To, frames, "%v", have)
	}
}

// A hand on the hip goes where the hip goes, though the shoulder does not. One that goes with the shoulder as it hangs is
// not planted on anything.
func TestAHandOnTheHipIsPlantedThere(t *testing.T) {
	tilt := func(f float64) float64 { return wave(f, 72, 1, 4) }
	hips := sway(72)
	d := docker{frames: 72, hips: hips, tiltDeg: tilt, chestDeg: func(f float64) float64 { return -1.5 * tilt(f) }, hand: func(f float64) (side, up float64) {
		sine, cosine := math.Sincos(tilt(f) / degrees)
		high, _ := hips(f)
		return 0.2*cosine - 0.08*sine, high + 0.2*sine + 0.08*cosine
	}}
	r, data := importPuppet(t, d.puppet(), Options{})
	requireWithin(t, DefaultWithin(), compare(t, r, data, 0))
	assert.Equal(t, []PlantReport{{Goal: "hand.left", On: "hips", From: 0, To: 72}}, r.Plants)
	assert.Regexp(t, `hand\.left +0b\.\.4b on hips`, r.SheetText)
	// Whoever tilts the hips takes the hand along.
	m := offHips(t, r, "hips/tilt", 3)
	player, hand, on := m.Player(), m.Rig.JointIndex("hand.left"), m.Rig.JointIndex("hips")
	var first [3]float64
	for f := 0.0; f < 72; f++ {
		world := player.Figure(f).World
		at := world[on].Undo(world[hand].Position())
		if f == 0 {
			first = at
		}
		require.InDeltaSlice(t, first[:], at[:], 1e-6)
	}

	d.chestDeg = nil
	r, data = importPuppet(t, d.puppet(), Options{})
	requireWithin(t, DefaultWithin(), compare(t, r, data, 0))
	assert.Empty(t, r.Plants)
}

// What slides stays unplanted, however slowly it does, and so does what turns round in the air.
func TestWhatSlidesIsNotPlanted(t *testing.T) {
	for name, ahead := range map[string]func(f float64) float64{
		"a centimetre a second": func(f float64) float64 { return 0.01 * f / 24 },
		"there and back":        func(f float64) float64 { return 0.006 * math.Abs(f-36) / 36 },
		"swaying":               func(f float64) float64 { return wave(f, 72, 1, 0.01) },
		"swaying far":           func(f float64) float64 { return wave(f, 72, 1, 0.1) },
	} {
		t.Run(name, func(t *testing.T) {
			d := docker{frames: 72, hips: sway(72), ankle: func(side int, f float64) (up, at float64) {
				up, at = onGround(side, f)
				return up, at + ahead(f)
			}}
			r, data := importPuppet(t, d.puppet(), Options{})
			requireWithin(t, DefaultWithin(), compare(t, r, data, 0))
			assert.Empty(t, r.Plants)
		})
	}
}

// A foot that rolls over its toe does not stand: its ankle goes on.
func TestAFootThatRollsIsPlantedOnlyWhileFlat(t *testing.T) {
	roll := func(f float64) float64 { return 40 * math.Max(0, math.Sin(math.Pi*(f-36)/36)) }
	d := docker{
		frames: 72, hips: func(f float64) (up, ahead float64) { return 0.8 + wave(f, 72, 1, 0.02), wave(f, 72, 1, 0.03) },
		heel: func(side int, f float64) float64 { return roll(f) * float64(1-side) },
		ankle: func(side int, f float64) (up, ahead float64) {
			up, ahead = onGround(side, f)
			if side == 1 {
				return up, ahead
			}
			// Toes stay: the ankle turns about them.
			sine, cosine := math.Sincos(roll(f) / degrees)
			return 0.01 + 0.05*cosine + 0.14*sine, ahead + 0.14 + 0.05*sine - 0.14*cosine
		},
	}
	r, data := importPuppet(t, d.puppet(), Options{})
	requireWithin(t, DefaultWithin(), compare(t, r, data, 0))
	requirePlants(t, []PlantReport{{Goal: "foot.left", From: 0, To: 36}, {Goal: "foot.right", From: 0, To: 72}}, r.Plants, 1)
}

// A foot that jitters by what a capture jitters still stands, if its knee can bear it; or else the report says within
// what it could, and within that it is planted.
func TestAFootThatJittersStands(t *testing.T) {
	jitter := func(sizeCM float64) docker {
		noise := rand.New(rand.NewPCG(7, 11))
		size := sizeCM / 100
		var off [2][73][2]float64
		for side := range off {
			for f := range off[side] {
				off[side][f] = [2]float64{size * (2*noise.Float64() - 1), size * (2*noise.Float64() - 1)}
			}
		}
		return docker{frames: 72, hips: sway(72), ankle: func(side int, f float64) (up, ahead float64) {
			up, ahead = onGround(side, f)
			jitter := off[side][int(f)%72]
			return up + jitter[0], ahead + jitter[1]
		}}
	}
	r, data := importPuppet(t, jitter(0.02).puppet(), Options{})
	requireWithin(t, DefaultWithin(), compare(t, r, data, 0))
	assert.Len(t, r.Plants, 2)

	r, data = importPuppet(t, jitter(0.1).puppet(), Options{})
	requireWithin(t, DefaultWithin(), compare(t, r, data, 0))
	assert.Empty(t, r.Plants)
	report := strings.Join(r.Report, "\n")
	assert.Contains(t, report, "foot.left stands still from frame 0 to 72, but stays unplanted")

	within, err := ParseWithin("1.5deg,0.1cm,0.5cm-world")
	require.NoError(t, err)
	r, data = importPuppet(t, jitter(0.1).puppet(), Options{Within: within})
	requireWithin(t, within, compare(t, r, data, 0))
	assert.Len(t, r.Plants, 2)
}

// The demo cast, exported as clips that carry no text: what is planted is found where the sheets have it, and nothing
// else.
func TestPlantsOfTheCastAreFoundAgain(t *testing.T) {
	long(t)
	found, meant, said, keys, saved := 0, 0, 0, 0, 0
	for _, m := range cast(t) {
		_, file := exported(t, TakeWish{Bare: true, Bake: Rate{24, 1}}, m)
		r, err := Import(Options{Path: file, ReadFile: os.ReadFile})
		require.NoError(t, err)
		meant += len(m.Plants)
		said += len(r.Plants)
		var wants, missed []PlantReport
		for _, p := range m.Plants {
			want := PlantReport{Goal: m.Rig.Joints[p.Joint].Name, From: int(p.From), To: int(p.To)}
			if p.To-p.From == p.Period() {
				want.From, want.To = 0, int(m.Sheet.Length.Float()) // all the time, from wherever it is said
			}
			if p.On >= 0 {
				want.On = m.Rig.Joints[p.On].Name
			}
			wants = append(wants, want)
			if slices.Contains(r.Plants, want) {
				found++
			} else {
				missed = append(missed, want)
			}
		}
		for _, p := range r.Plants {
			if !slices.Contains(wants, p) {
				t.Errorf("%s: %v is planted, which the sheet does not say", m.Sheet.Name, p)
			}
		}
		t.Logf("%s: %d keys, %d without plants", m.Sheet.Name, r.Keys, r.Keys+r.SavedKeys)
		keys, saved = keys+r.Keys, saved+r.SavedKeys
		assert.Empty(t, missed, m.Sheet.Name)
		edited := offHips(t, r, "hips/side", 2)
		for _, p := range r.Plants {
			if p.On == "" {
				requireStands(t, edited, p.Goal, float64(p.From), float64(p.To))
			}
		}
	}
	t.Logf("%d of %d plants found, %d said; %d keys, %d without plants", found, meant, said, keys, keys+saved)
	assert.Positive(t, saved)
}

// Any limb, solved all the time with no plant at all, moves as in the clip: in the importer's own arithmetic, and in the
// language's, to which it is held by the texts that come out.
func TestAnyLimbIsSolvedAsItMoves(t *testing.T) {
	all, inside, refused := 0, 0, 0
	rapid.Check(t, func(r *rapid.T) {
		frames := rapid.IntRange(8, 30).Draw(r, "frames")
		draw := rapid.Float64Range(-1, 1)
		axis := rapid.IntRange(0, 2).Draw(r, "axis")
		along := func(length float64) (v [3]float64) {
			v[axis] = length
			for other := range 3 {
				if other != axis {
					v[other] = 0.2 * length * draw.Draw(r, "beside")
				}
			}
			return v
		}
		angles := func(size, middle vec3) func(f float64) []float64 {
			var phase vec3
			for i := range 3 {
				phase[i] = 3 * draw.Draw(r, "phase")
			}
			return func(f float64) []float64 {
				var at vec3
				for i := range 3 {
					at[i] = middle[i] + size[i]*math.Sin(2*math.Pi*f/float64(frames)+phase[i])
				}
				turn := orders()[0].quat(at)
				return turn[:]
			}
		}
		some := func(sizeDeg float64) (v vec3) {
			for i := range 3 {
				v[i] = sizeDeg * draw.Draw(r, "size")
			}
			return v
		}
		node := func(name string, place [3]float64, children ...int) *gltf.Node {
			return &gltf.Node{Name: name, Translation: place, Rotation: gltf.DefaultRotation, Scale: gltf.DefaultScale, Children: children}
		}
		p := puppet{nodes: []*gltf.Node{node("Hips", [3]float64{0, 1, 0}, 1), node("Thigh", along(0.1), 2), node("Shin", along(0.4), 3), node("Foot", along(-0.35), 4), node("Toe", along(0.1))}}
		// The shin turns far about an axis across its bone, so that the limb is bent throughout.
		bend := vec3{}
		bend[(axis+1)%3] = 180 - rapid.Float64Range(25, 110).Draw(r, "bend")
		p.clips = []clipSpec{{name: "any", tracks: []trackSpec{
			baked(0, gltf.TRSTranslation, 24, 0, frames, func(f float64) []float64 { return []float64{wave(f, float64(frames), 1, 0.05), 1, 0} }),
			baked(0, gltf.TRSRotation, 24, 0, frames, angles(some(15), some(40))),
			baked(1, gltf.TRSRotation, 24, 0, frames, angles(some(35), some(90))),
			baked(2, gltf.TRSRotation, 24, 0, frames, angles(some(12), bend)),
			baked(3, gltf.TRSRotation, 24, 0, frames, angles(some(30), some(60))),
		}}}
		within := Options{Within: DefaultWithin()}
		d := readPuppet(t, p)
		f, err := sampledFigure(d, &d.Clips[0], within, d.bones([]*Clip{&d.Clips[0]}))
		require.NoError(t, err)
		e := ensembleOf([]*figure{f}, within)
		before, errors := e.settle(within.Within, []beat{f.findBeat(0)})
		limbs := f.findLimbs()
		require.Len(t, limbs, 1)
		require.Empty(t, limbs[0].why)
		g0, channels := before.withLimbs([][]limb{limbs})
		after := before.refitted(g0, channels, within.Within)
		g := after.figures[0]
		values := make([][]float64, len(g.series))
		for n := range values {
			values[n] = g.series[n].clip
		}
		joints := g.skeleton.joints
		worst := 0.0
		g.eachPose(values, func(step int, pose []transform, place []vec3) {
			for i := range joints {
				off := offsOf(pose[i], joints[i].clip[step], place[i], g.world[step][i])
				if step%stepsPerFrame == 0 {
					own, there := off.shares(within.Within, offs{})
					worst = max(worst, own, there)
				}
			}
		})
		if worst > anchorShare {
			refused++ // as an import would
			return
		}
		reports := after.narrowDown(2 * settlingRounds)
		if all++; reports[0].inside() {
			inside++
		}
		after.nameChannels(after.channels)
		after.bakeRest(after.channels)
		made := &Result{RigName: "any", RigFile: "any-rig.motet", SheetName: "limb", SheetFile: "limb.motet"}
		made.RigText = g.writeRig("any", made.RigFile, "any.glb", after.channels[0])
		g.result(made, "any.glb", within.Within, after.beats[0], after.channels[0], reports[0])
		if off := g.proves(made, within.Within, proofSlack*math.Max(1, reports[0].ratio)); off != nil {
			r.Fatalf("%v (%v without the limb solved)\n%s\n%s", off, errors[0].ratio, made.RigText, made.SheetText)
		}
	})
	t.Logf("%d of %d limbs are kept within the limits, %d can't be solved", inside, all, refused)
	assert.Less(t, 10*refused, all+refused)
	assert.Greater(t, 10*inside, 9*all, "an import would seldom plant what it can't keep")
}
