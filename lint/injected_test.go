package lint

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

var injections = flag.Int("injections", 50, "how many faults to put into the demo's base; RULES.md tells of 500")

// injection is a sheet with one known fault in it.
type injection struct {
	fault string // what was done, in words
	rule  string // that must report it
	text  string
	where func(f *grammar.File, found Finding) bool // it is told at the right place
}

// injector puts faults into the demo's base: into its keys as written, or into its motion with a key on every frame, as
// a package bakes it.
type injector struct {
	m      *motion.Motion // as written
	frames int
	values [][]float64 // channel by channel, frame by frame
	draw   *rand.Rand
}

const injectedFolder = testFolder + "/quay"

func newInjector(t *testing.T, seed uint64) *injector {
	project := motion.NewProject(folderTrees(injectedFolder))
	base, err := folderTrees(injectedFolder)("keeper.motet")
	require.NoError(t, err)
	m := project.Resolve(base)
	require.True(t, m.Whole())
	in := &injector{m: m, frames: int(m.Sheet.Length.Round()), draw: rand.New(rand.NewPCG(seed, 2))}
	s := m.SampledByFrame()
	for i := range m.Channels {
		in.values = append(in.values, slices.Clone(s.Channel(i).Samples))
	}
	return in
}

// baked writes the motion with a key on every frame of every channel that moves or is asked for, feet keyed where they
// stand and asserted to stay there. What only hand-made keys are asked for is off, as it would be for such a clip.
func (in *injector) baked(values [][]float64) string {
	var out strings.Builder
	out.WriteString("sheet keeper-baked\n  rig       quayfolk in \"quayfolk.motet\"\n  rate      24 fps\n  tempo     80 bpm\n")
	fmt.Fprintf(&out, "  cycle     %df\n\nhouse\n  rule level\n  crowded off\n  spare-key off\n  off-beat off\n\nplant\n  ankle.left 0b..6b\n  ankle.right 0b..6b\n", in.frames)
	for _, control := range in.controls() {
		fmt.Fprintf(&out, "\ntrack %s\n  at", control.name)
		for _, i := range control.channels {
			out.WriteString(" " + in.m.Rig.Channels[i].Name)
		}
		out.WriteString("\n")
		for k := range in.frames {
			fmt.Fprintf(&out, "  %df", k)
			for _, i := range control.channels {
				fmt.Fprintf(&out, " %s", strconv.FormatFloat(values[i][k], 'f', 4, 64))
			}
			out.WriteString("\n")
		}
	}
	return out.String()
}

type bakedControl struct {
	name     string
	channels []int
}

func (in *injector) controls() (out []bakedControl) {
	for i := range in.m.Channels {
		dial := in.m.Channels[i].Dial
		moves := slices.Max(in.values[i]) != slices.Min(in.values[i]) || strings.HasPrefix(dial.Path, "foot.")
		if !moves && in.values[i][0] == dial.Rest && !strings.HasPrefix(dial.Path, "arm.") {
			continue
		}
		if len(out) == 0 || out[len(out)-1].name != dial.Control {
			out = append(out, bakedControl{name: dial.Control})
		}
		last := &out[len(out)-1]
		last.channels = append(last.channels, i)
	}
	return out
}

func (in *injector) copied() [][]float64 {
	values := make([][]float64, len(in.values))
	for i := range values {
		values[i] = slices.Clone(in.values[i])
	}
	return values
}

// draws gives the next fault, each of the five kinds in turn.
func (in *injector) fault(i int) injection {
	return []func() injection{in.shiftedKey, in.liftedKey, in.copiedArm, in.frozen, in.slidFoot}[i%5]()
}

// shiftedKey puts a row at which the hips or the whole body turn two frames later or earlier.
func (in *injector) shiftedKey() injection {
	var rows []grammar.Ref
	for i := range in.m.Channels {
		c := &in.m.Channels[i]
		if c.Base == nil {
			continue
		}
		keys := c.Base.Keys
		for k := range keys {
			before, after := keys[(k+len(keys)-1)%len(keys)].Value, keys[(k+1)%len(keys)].Value
			comes, goes := keys[k].Value-before, after-keys[k].Value
			turns := comes*goes < 0 && min(math.Abs(comes), math.Abs(goes)) >= 1 // cm or degrees: visible
			carriesAll := c.Dial.Control == "hips" || keys[k].From == motion.FromBlocking
			if turns && carriesAll {
				rows = append(rows, keys[k].At)
			}
		}
	}
	row := rows[in.draw.IntN(len(rows))]
	line := row.Block.Lines[row.Line]
	at := strings.Fields(line.Text)[0]
	by := "+2f"
	if in.draw.IntN(2) == 0 && !strings.HasPrefix(at, "0") {
		by = "-2f"
	}
	span, ok := in.m.File.Locate(row)
	if !ok {
		panic("the key stands in another file")
	}
	number := strings.Count(in.m.File.Text[:span.Start], "\n")
	lines := strings.Split(in.m.File.Text, "\n")
	lines[number] = strings.Replace(lines[number], at, at+by, 1)
	return injection{
		fault: fmt.Sprintf("the row %q played %s", strings.TrimSpace(line.Text), by), rule: "off-beat", text: strings.Join(lines, "\n"),
		where: func(f *grammar.File, found Finding) bool { return lineOf(f, found) == number },
	}
}

// liftedKey lifts one frame of one turning channel by 2°.
func (in *injector) liftedKey() injection {
	var turns []int
	for _, control := range in.controls() {
		for _, i := range control.channels {
			part := in.m.Rig.PartOf(in.m.Channels[i].Dial)
			if in.m.Channels[i].Dial.Unit == "deg" && part != motion.PartEye && part != motion.PartLid {
				turns = append(turns, i)
			}
		}
	}
	i, k := turns[in.draw.IntN(len(turns))], in.draw.IntN(in.frames)
	values := in.copied()
	values[i][k] += 2
	dial := in.m.Channels[i].Dial
	return injection{
		fault: fmt.Sprintf("%s lifted by 2° at frame %d", dial.Path, k), rule: "pop", text: in.baked(values),
		where: func(_ *grammar.File, found Finding) bool {
			return strings.Contains(found.Message, dial.Path) && in.near(found, float64(k), 1)
		},
	}
}

// copiedArm gives the right arm what the left one does, in time and in size.
func (in *injector) copiedArm() injection {
	values := in.copied()
	size := 1 + in.draw.Float64()
	for i := range in.m.Channels {
		dial := in.m.Channels[i].Dial
		for _, limb := range []string{"arm", "wrist", "fingers", "shoulder"} {
			name, ok := strings.CutPrefix(dial.Path, limb+".left/")
			if !ok {
				continue
			}
			to := in.m.Channel(limb + ".right/" + name).Index
			mean := 0.0
			for _, v := range values[i] {
				mean += v / float64(in.frames)
			}
			for k, v := range values[i] {
				v = mean + size*(v-mean)
				values[i][k], values[to][k] = v, v
			}
		}
	}
	return injection{
		fault: fmt.Sprintf("the right arm does what the left does, %.2f times as large", size), rule: "twin", text: in.baked(values),
		where: func(_ *grammar.File, found Finding) bool { return strings.Contains(found.Message, "hand.") },
	}
}

// frozen holds everything for a second, and takes the time for it from the second after, eased at both ends.
func (in *injector) frozen() injection {
	start := in.draw.IntN(in.frames)
	values := in.copied()
	for i := range values {
		signal := in.values[i]
		for k := range 49 {
			past := 0.0 // of the 48 frames, how many have been played
			if k > 24 {
				x := float64(k-24) / 24
				past = 48 * x * x * (3 - 2*x)
				if k == 48 {
					past = 48
				}
			}
			at := float64(start) + past
			low := int(math.Floor(at))
			a, b := signal[low%in.frames], signal[(low+1)%in.frames]
			values[i][(start+k)%in.frames] = a + (at-float64(low))*(b-a)
		}
	}
	return injection{
		fault: fmt.Sprintf("everything frozen for a second from frame %d", start), rule: "freeze", text: in.baked(values),
		where: func(_ *grammar.File, found Finding) bool { return in.near(found, float64(start), 6) },
	}
}

// slidFoot takes one foot 2 cm along the ground and back within a second.
func (in *injector) slidFoot() injection {
	side := []string{"left", "right"}[in.draw.IntN(2)]
	axis := []string{"side", "ahead"}[in.draw.IntN(2)]
	start := in.draw.IntN(in.frames)
	values := in.copied()
	i := in.m.Channel("foot." + side + "/" + axis).Index
	for k := range 24 {
		values[i][(start+k)%in.frames] += 1 - math.Cos(2*math.Pi*float64(k)/24)
	}
	return injection{
		fault: fmt.Sprintf("foot.%s/%s slid by 2 cm about frame %d", side, axis, (start+12)%in.frames), rule: "slide", text: in.baked(values),
		where: func(_ *grammar.File, found Finding) bool {
			return strings.Contains(found.Message, "ankle."+side) && in.near(found, float64(start+12), 13)
		},
	}
}

var reFrame = regexp.MustCompile(`frame ([0-9.]+)`)

// near tells whether a report names a frame near one, round the seam too.
func (in *injector) near(found Finding, frame, within float64) bool {
	for _, m := range reFrame.FindAllStringSubmatch(found.Message, -1) {
		at, _ := strconv.ParseFloat(m[1], 64)
		if math.Abs(math.Remainder(at-frame, float64(in.frames))) <= within {
			return true
		}
	}
	return false
}

func lineOf(f *grammar.File, found Finding) int {
	span, _ := f.Locate(found.At)
	return strings.Count(f.Text[:span.Start], "\n")
}

// TestInjectedFaultsAreFound puts known faults into the demo's base and counts which are found, and what else is
// reported. The kinds of faults and their sizes are those of a lead's list: common practice.
func TestInjectedFaultsAreFound(t *testing.T) {
	in := newInjector(t, 1)
	trees := folderTrees(injectedFolder)
	judge := func(text string) (*grammar.File, []Finding) {
		f := grammar.Parse("injected.motet", text)
		m := motion.NewProject(trees).Resolve(f)
		require.True(t, m.Whole(), "%v", m.Problems)
		return f, Check(m)
	}
	_, before := judge(in.baked(in.values))
	for _, found := range before {
		t.Errorf("the motion without a fault is reported: %s: %s", found.Rule, found.Message)
	}
	tally := map[string]*[3]int{} // by rule: put in, found in place, other reports
	for i := range *injections {
		fault := in.fault(i)
		f, reports := judge(fault.text)
		n := tally[fault.rule]
		if n == nil {
			n = new([3]int)
			tally[fault.rule] = n
		}
		n[0]++
		found := false
		for _, r := range reports {
			if r.Rule == fault.rule && fault.where(f, r) {
				found = true
				continue
			}
			n[2]++
			t.Logf("%s: also %s: %s", fault.fault, r.Rule, r.Message)
		}
		if found {
			n[1]++
		} else {
			t.Logf("%s: not found", fault.fault)
		}
	}
	for _, rule := range []string{"off-beat", "pop", "twin", "freeze", "slide"} {
		n := tally[rule]
		t.Logf("%-9s %3d put in, %3d found, %3d other reports", rule, n[0], n[1], n[2])
		assert.Equal(t, n[0], n[1], rule)
		assert.Zero(t, n[2], "other reports beside %s", rule)
	}
}
