package exchange

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/lint/motion/reference"
)

// fitFile keeps the table that BenchmarkFitAgainstResample makes.
const fitFile = "../../../testdata/fit.md"

const fitHead = `# The fit beside plain removal of keys

The sixteen baked clips of the npm package @dcl/wearable-preview, read in by ` + "`motet import --no-plants`" + `, which keeps
every joint's own turn within 0.25° of the clip and its place in the world within 0.5 cm, and by ` + "`motet import`" + ` alone, which
keeps the same limits and plants the feet and hands that stand (clips.md tells which); and the same clips by the resample of
@gltf-transform/functions, at 0.00218, which a quarter of a degree is in the numbers of a quaternion. A key of a sheet is one
number of one channel, with a slope where it needs one; a key of a sampler holds three or four numbers, so both are counted.
Errors are the largest at the clip's frames: of a joint's own turn, and of any joint's place in the world, by the same
evaluator for all. Resample holds each key to its neighbours of the moment, so that what it leaves out adds up; the last
three columns are what it keeps at the largest tolerance, of that one halved again and again, at which it is within the same
limits. Times are of the whole import, from the file to the text, and of the resample alone, in a process that has done it
before; both on the machine and at the load that are named below.

Made by ` + "`MOTET_UPDATE=1 go test -run '^$' -bench FitAgainstResample -benchtime 1x ./cmd/motet/exchange`" + `, which fails where a
limit is broken.

| clip | baked keys | sheet: keys | turn | place | ms | with plants: keys | turn | place | ms | resample: keys | numbers | turn | place | ms | within the limits: keys | numbers | at |
| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |
`

// BenchmarkFitAgainstResample compares the import's fit with the removal of redundant keys at the same tolerance, on all
// real clips.
func BenchmarkFitAgainstResample(b *testing.B) {
	folder := b.TempDir()
	// Half of the angle is what a turn of it has in the quaternion's first three numbers.
	tolerance := math.Sin(DefaultWithin().TurnDeg / 2 / degrees)
	var requests []packing
	for _, path := range emotes(b) {
		for halvings := range mostTolerances {
			out := filepath.Join(folder, fmt.Sprint(halvings)+filepath.Base(path))
			requests = append(requests, packing{Path: path, Out: out, Tolerance: tolerance / float64(int(1)<<halvings)})
		}
		requests = append(requests, requests[len(requests)-mostTolerances]) // timed again: the first time is slower
	}
	var answers []packed
	for b.Loop() {
		reference.Ask(b, "pack.mjs", requests, &answers)
		var out strings.Builder
		var sum fitRow
		out.WriteString(fitHead)
		for i := 0; i < len(requests); i += mostTolerances + 1 {
			row := fitOf(b, requests[i:i+mostTolerances], answers[i+mostTolerances].MS)
			out.WriteString(row.String())
			sum.add(row)
		}
		sum.clip = "all, or the largest"
		out.WriteString(sum.String())
		fmt.Fprintf(&out, "\n%s, load %s.\n", processor(), load())
		b.ReportMetric(float64(sum.resampledNumbers)/float64(sum.planted.keys), "numbers/sheet-key")
		b.ReportMetric(float64(sum.boundNumbers)/float64(sum.planted.keys), "bound-numbers/sheet-key")
		b.ReportMetric(sum.planted.ms/sum.resampledMS, "x-resample")
		if os.Getenv("MOTET_UPDATE") != "" {
			require.NoError(b, os.WriteFile(fitFile, []byte(out.String()), 0o644))
		} else {
			b.Log("\n" + out.String())
		}
	}
}

// mostTolerances is how many tolerances resample is tried at, each half of the one before.
const mostTolerances = 10

// A fitRow is one clip.
type fitRow struct {
	boundKeys, boundNumbers            int
	boundAt                            float64
	clip                               string
	baked                              int
	free, planted                      fitOutcome
	resampledKeys, resampledNumbers    int
	resampledTurnDeg, resampledPlaceCM float64
	resampledMS                        float64
}

// A fitOutcome is what an import made of a clip.
type fitOutcome struct {
	keys                 int
	turnDeg, placeCM, ms float64
}

func (o *fitOutcome) add(p fitOutcome) {
	o.keys, o.ms = o.keys+p.keys, o.ms+p.ms
	o.turnDeg, o.placeCM = math.Max(o.turnDeg, p.turnDeg), math.Max(o.placeCM, p.placeCM)
}

func (o fitOutcome) String() string {
	return fmt.Sprintf("%d | %.3f° | %.3f cm | %.0f", o.keys, o.turnDeg, o.placeCM, o.ms)
}

func (r fitRow) String() string {
	return fmt.Sprintf("| %s | %d | %s | %s | %d | %d | %.3f° | %.3f cm | %.0f | %d | %d | %.2g |\n",
		r.clip, r.baked, r.free, r.planted, r.resampledKeys, r.resampledNumbers, r.resampledTurnDeg, r.resampledPlaceCM, r.resampledMS, r.boundKeys, r.boundNumbers, r.boundAt)
}

func (r *fitRow) add(o fitRow) {
	r.baked += o.baked
	r.free.add(o.free)
	r.planted.add(o.planted)
	r.resampledKeys, r.resampledNumbers, r.resampledMS = r.resampledKeys+o.resampledKeys, r.resampledNumbers+o.resampledNumbers, r.resampledMS+o.resampledMS
	r.boundKeys, r.boundNumbers = r.boundKeys+o.boundKeys, r.boundNumbers+o.boundNumbers
	if r.boundAt == 0 || o.boundAt < r.boundAt {
		r.boundAt = o.boundAt
	}
	r.resampledTurnDeg, r.resampledPlaceCM = math.Max(r.resampledTurnDeg, o.resampledTurnDeg), math.Max(r.resampledPlaceCM, o.resampledPlaceCM)
}

// fitOf fits one clip and holds what resample made of it at several tolerances against it.
func fitOf(t testing.TB, requests []packing, resampleMS float64) fitRow {
	t.Helper()
	row := fitRow{clip: strings.TrimSuffix(filepath.Base(requests[0].Path), ".glb"), resampledMS: resampleMS}
	original := read(t, requests[0].Path)
	for i := range original.Clips[0].tracks {
		row.baked += len(original.Clips[0].tracks[i].times)
	}
	for i, request := range requests {
		keys, numbers, turnDeg, placeCM := resampledOff(t, original, read(t, request.Out))
		if i == 0 {
			row.resampledKeys, row.resampledNumbers, row.resampledTurnDeg, row.resampledPlaceCM = keys, numbers, turnDeg, placeCM
		}
		if turnDeg <= DefaultWithin().TurnDeg && placeCM <= DefaultWithin().WorldCM {
			row.boundKeys, row.boundNumbers, row.boundAt = keys, numbers, request.Tolerance
			break
		}
	}
	require.NotZero(t, row.boundKeys, "%s: no tolerance is small enough", row.clip)

	row.free = outcomeOf(t, row.clip, requests[0].Path, original, true)
	row.planted = outcomeOf(t, row.clip, requests[0].Path, original, false)
	return row
}

// outcomeOf imports a clip and holds the sheet against it.
func outcomeOf(t testing.TB, clip, path string, original *Document, noPlants bool) fitOutcome {
	t.Helper()
	start := time.Now()
	made, err := Import(Options{Path: path, ReadFile: os.ReadFile, NoPlants: noPlants})
	require.NoError(t, err)
	o := fitOutcome{keys: made.Keys, turnDeg: made.Off.TurnDeg, placeCM: made.Off.WorldCM, ms: float64(time.Since(start).Microseconds()) / 1000}
	held, err := LikenessToSheet(resolve(t, made), original, "")
	require.NoError(t, err)
	if made.Loop == Closes || made.Loop == Open { // elsewhere the ends were drawn together
		place, _, _, _ := held.Largest()
		assert.InDelta(t, place.Largest, o.placeCM, 0.02, clip)
	}
	assert.LessOrEqual(t, o.turnDeg, DefaultWithin().TurnDeg, clip)
	assert.LessOrEqual(t, o.placeCM, DefaultWithin().WorldCM, clip)
	return o
}

// resampledOff counts the keys of a clip and their numbers, and tells how far it is from another one: the largest angle
// between a joint's own turns, and the largest distance in the world.
func resampledOff(t testing.TB, original, short *Document) (keys, numbers int, turnDeg, placeCM float64) {
	t.Helper()
	clip, cut := &original.Clips[0], &short.Clips[0]
	frames, err := timingOf(clip, Rate{})
	require.NoError(t, err)
	for i := range cut.tracks {
		keys += len(cut.tracks[i].times)
		numbers += len(cut.tracks[i].times) * cut.tracks[i].width
		if clip.tracks[i].property != turns {
			continue
		}
		require.Equal(t, original.nodes[clip.tracks[i].node].name, short.nodes[cut.tracks[i].node].name)
		for frame := range frames.frames + 1 {
			at := frames.seconds(frame * stepsPerFrame)
			turnDeg = math.Max(turnDeg, quat(clip.tracks[i].at(at)).angleTo(cut.tracks[i].at(at)))
		}
	}
	off, err := LikenessOfClips(original, "", short, "")
	require.NoError(t, err)
	place, _, _, _ := off.Largest()
	return keys, numbers, turnDeg, place.Largest
}

// processor is the machine's, where Linux tells it.
func processor() string {
	text, _ := os.ReadFile("/proc/cpuinfo")
	count, name := 0, "a machine that does not tell its processor"
	for line := range strings.Lines(string(text)) {
		if key, value, ok := strings.Cut(line, ":"); ok && strings.TrimSpace(key) == "model name" {
			count, name = count+1, strings.TrimSpace(value)
		}
	}
	return fmt.Sprintf("%d × %s", count, name)
}

// load is how many processes wanted to run in the last minute, where Linux tells it.
func load() string {
	text, _ := os.ReadFile("/proc/loadavg")
	if fields := strings.Fields(string(text)); len(fields) > 0 {
		return fields[0]
	}
	return "unknown"
}
