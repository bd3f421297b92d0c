package exchange

import (
	"fmt"
	"math"
	"path"
	"slices"
	"strings"
)

// Options say what to import and how closely.
type Options struct {
	// Path is the glTF file, and ReadFile how it and its external buffers are read.
	Path     string
	ReadFile func(path string) ([]byte, error)
	// Clip names the animation; it may be left out when the file has only one.
	Clip string
	// Within bounds the error; the zero value means DefaultWithin.
	Within Within
	// Rate is taken from the spacing of the clip's keys when left zero.
	Rate Rate
	// TempoBPM is found in the motion when left zero.
	TempoBPM float64
	// Cycle makes a cycle of a clip that is no loop; its ends then stay apart, for the
	// check to report.
	Cycle bool
	// Anew fits a clip anew even where it carries the sheet that it came from.
	Anew bool
	// NoPlants leaves all limbs to the turns of their joints, also where an end stands still.
	NoPlants bool
	// StillCM is how far a foot or hand may get from a place and still be held there, though that takes its limb out of the
	// limits; 0 for not at all. The report says what it costs.
	StillCM float64
}

// A Result is what an import makes. The caller writes the files; their names stand for
// themselves, without a folder.
type Result struct {
	RigName, RigFile, RigText       string
	SheetName, SheetFile, SheetText string
	// Others are the bases of a sheet that the clip carried; it was not fitted then, and has no channels here.
	Others []TextFile
	// Report tells in lines for a person what was found and how close the sheet is.
	Report []string
	// Loop says how the clip's ends meet, and Gap how far apart they were.
	Loop Ending
	Gap  Gap
	// Channels are those of the sheet in its order.
	Channels []ChannelReport
	// Keys is the sum over Channels, and Baked that of the clip's keys for all that moves in it.
	Keys, Baked int
	// Off holds the largest errors at the frames of the clip, each against the limit of the
	// same name.
	Off Within
	// Plants are the stretches in which the sheet holds an end, by goal and time.
	Plants []PlantReport
	// SavedKeys is how many keys fewer that takes than turns of the joints alone; below 0 for more.
	SavedKeys int
}

// A ChannelReport says how one channel came out.
type ChannelReport struct {
	Path, Unit string
	// Keys in the sheet, and Baked in the clip for all that the channel drives.
	Keys, Baked int
	// Worst is the largest error at a frame of the clip, in the unit.
	Worst float64
}

// A ClipChoice is the error of an import that does not know which clip is meant.
type ClipChoice struct {
	Asked string
	Clips []string
}

func (e *ClipChoice) Error() string {
	have := "the clips are " + strings.Join(e.Clips, ", ")
	if e.Asked == "" {
		return fmt.Sprintf("the file has %d clips; choose one with --clip: %s", len(e.Clips), have)
	}
	return fmt.Sprintf("the file has no clip %q; %s", e.Asked, have)
}

// Import reads one clip of a glTF file and makes a rig and a sheet of it. Every error says
// what is wrong and what to do.
func Import(o Options) (*Result, error) {
	d, err := Read(o.Path, o.ReadFile)
	if err != nil {
		return nil, err
	}
	clip, err := d.choose(o.Clip)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", o.Path, err)
	}
	said := ""
	if o.asItComes() {
		var r *Result
		if r, said = d.carried(clip); r != nil {
			return r, nil
		}
	}
	if o.Within == (Within{}) {
		o.Within = DefaultWithin()
	}
	if o.TempoBPM != 0 && !(o.TempoBPM >= 1 && o.TempoBPM <= 1000) {
		return nil, fmt.Errorf("a tempo of %g bpm is none; write one from 1 to 1000", o.TempoBPM)
	}
	r, err := d.importClip(clip, o)
	if err == nil && said != "" {
		r.Report = append([]string{said}, r.Report...)
	}
	return r, err
}

// asItComes tells whether nothing is asked for that the sheet might not be which a clip carries.
func (o Options) asItComes() bool {
	return !o.Anew && !o.NoPlants && o.StillCM == 0 && !o.Cycle && o.Within == (Within{}) && o.Rate == (Rate{}) && o.TempoBPM == 0
}

// importClip fits a clip over a rig of its own.
func (d *Document) importClip(clip *Clip, o Options) (*Result, error) {
	return d.importStilled(clip, o, map[int]bool{})
}

// importStilled is importClip with the ends of some limbs left as they jitter.
func (d *Document) importStilled(clip *Clip, o Options, free map[int]bool) (*Result, error) {
	fail := func(err error) error { return fmt.Errorf("%s: clip %q: %w", d.Path, clip.Name, err) }
	f, err := sampledFigure(d, clip, o, d.bones([]*Clip{clip}))
	if err != nil {
		return nil, fail(err)
	}
	e, asBaked := ensembleOf([]*figure{f}, o), f
	var held []stilledLimb
	if o.StillCM > 0 && !o.NoPlants {
		if held = f.stilled(f.findLimbs(), o.StillCM, free); len(held) > 0 {
			if f, err = sampledFigure(d, clip, o, d.bones([]*Clip{clip})); err != nil {
				return nil, fail(err)
			}
			f.still(held)
			e = ensembleOf([]*figure{f}, o)
		}
	}
	beats := []beat{f.findBeat(o.TempoBPM)}
	settled, errors := e.settle(o.Within, beats)
	if !o.NoPlants {
		settled, errors = settled.plant(o.Within, errors, nil)
		f, e = settled.figures[0], settled.ensemble
	}
	for i := range held {
		if l := f.limbOf(held[i].end); l == nil || len(l.plants) == 0 {
			free[held[i].end] = true // it would be bent for nothing
		}
	}
	if len(held) > 0 && slices.ContainsFunc(held, func(l stilledLimb) bool { return free[l.end] }) {
		return d.importStilled(clip, o, free)
	}
	channels := settled.channels
	e.nameChannels(channels)
	e.bakeRest(channels)
	if err := e.blendIn(o.Within, beats, errors); err != nil {
		return nil, fail(err)
	}

	file := path.Base(toSlash(d.Path))
	r := &Result{RigName: fileWord(file), SheetName: d.nameOf(clip, file)}
	r.SheetFile, r.RigFile = r.SheetName+sheetEnd, r.RigName+rigEnd+sheetEnd
	if r.RigFile == r.SheetFile {
		r.RigFile = r.RigName + rigEnd + "-2" + sheetEnd
	}
	r.RigText = f.writeRig(r.RigName, r.RigFile, file, channels[0])
	if len(held) > 0 {
		f.heldCM = o.StillCM
	}
	f.result(r, file, o.Within, beats[0], channels[0], errors[0])
	if r.Plants = f.plantReports(); len(r.Plants) > 0 {
		if off := f.proves(r, o.Within, proofSlack*math.Max(1, errors[0].ratio)); off != nil {
			o.NoPlants = true
			if r, err = d.importClip(clip, o); err == nil {
				r.Report = append(r.Report, fmt.Sprintf("nothing is planted, since the sheet would not have kept the clip: %v", off))
			}
			return r, err
		}
	}
	if len(held) > 0 {
		f.unplanted = append(f.stillLines(o.StillCM, held), f.unplanted...)
		honest := f.honest(asBaked, f.values(channels[0], beats[0].frames), o.Within, errors[0])
		errors[0] = honest
		r.Off.TurnDeg, r.Off.MoveCM, r.Off.WorldCM = honest.turnDeg.error, honest.moveCM.error, honest.worldCM.error
	}
	r.Report = f.report(file, o.Within, beats[0], r, errors[0])
	return r, nil
}

func (d *Document) choose(name string) (*Clip, error) {
	if len(d.Clips) == 0 {
		return nil, fmt.Errorf("the file has no animation; export it with one")
	}
	if name == "" && len(d.Clips) == 1 {
		return &d.Clips[0], nil
	}
	for i := range d.Clips {
		if name != "" && d.Clips[i].Name == name {
			return &d.Clips[i], nil // before one whose word is so only
		}
	}
	e := &ClipChoice{Asked: name}
	for i := range d.Clips {
		if name != "" && d.word(i) == name {
			return &d.Clips[i], nil
		}
		e.Clips = append(e.Clips, d.word(i))
	}
	return nil, e
}

// word is the word by which clip i is chosen and its sheet named: the clip's name made a
// word, numbered when an earlier clip has the same.
func (d *Document) word(i int) string {
	taken := map[string]bool{}
	word := ""
	for k := range d.Clips[:i+1] {
		word = unique(clipWord(d.Clips[k].Name, "clip"), "", taken)
	}
	return word
}

// rigChannels are the channels that the rig has: those that any sheet says something of. The others are marked as dropped.
func (e *ensemble) rigChannels(channels [][]channel) []channel {
	out := slices.Clone(channels[0])
	for n := range out {
		for k := range channels {
			out[n].dropped = out[n].dropped && channels[k][n].dropped
		}
	}
	return out
}

// bakeRest puts into the rest pose what channels stay at that no sheet says anything of.
func (e *ensemble) bakeRest(channels [][]channel) {
	f := e.lead
	joints := f.skeleton.joints
	for n := range f.series {
		if s := &f.series[n]; !s.gone {
			f.setSeriesRest(joints, s, s.rest)
		}
	}
	for _, c := range e.rigChannels(channels) {
		if !c.dropped {
			continue
		}
		for _, d := range c.drives {
			s := &f.series[d.series]
			f.setSeriesRest(joints, s, tidy(s.rest+d.gain*(c.keys.value[0]-c.base)))
		}
	}
}

func (f *figure) setSeriesRest(joints []joint, s *series, rest float64) {
	switch s.property {
	case moves:
		joints[s.joint].rest.move[s.axes[0]] = rest
	case turns:
		joints[s.joint].restAngles[s.axes[0]] = rest
	}
}

// How the names of files end that an import makes.
const (
	sheetEnd = ".motet"
	rigEnd   = "-rig"
)

// fileWord is the word for a file.
func fileWord(file string) string {
	return plainWord(strings.Join(tokensOf(strings.TrimSuffix(file, path.Ext(file))), "-"), "figure")
}

// nameOf is the name of a clip's sheet: the clip's word, or the file's for the only one of a file, without a name.
func (d *Document) nameOf(clip *Clip, file string) string {
	if clip.Name == "" && len(d.Clips) == 1 {
		return fileWord(file)
	}
	for i := range d.Clips {
		if &d.Clips[i] == clip {
			return d.word(i)
		}
	}
	return clipWord(clip.Name, "clip")
}

// result fills in what came of a clip whose names are settled, with its sheet.
func (f *figure) result(r *Result, file string, within Within, b beat, channels []channel, errors errorReport) {
	r.Loop, r.Gap = f.loop.ending, f.loop.gap
	r.Off = Within{TurnDeg: errors.turnDeg.error, MoveCM: errors.moveCM.error, ScalePercent: errors.scalePercent.error, WeightPercent: errors.weightPercent, WorldCM: errors.worldCM.error}
	for i := range channels {
		c := &channels[i]
		if c.dropped {
			continue
		}
		report := ChannelReport{Path: f.path(c), Unit: f.series[c.drives[0].series].unit(), Keys: len(c.rows), Worst: c.worst}
		for _, drive := range c.drives {
			report.Baked += f.bakedKeys(&f.series[drive.series])
		}
		r.Channels = append(r.Channels, report)
		r.Keys, r.Baked = r.Keys+report.Keys, r.Baked+report.Baked
	}
	if f.keysWithout > 0 {
		// What the clip has of the limbs' turns stands behind other numbers now.
		r.SavedKeys, r.Baked = f.keysWithout-r.Keys, f.bakedWithout
	}
	for i := range f.shapes {
		if s := &f.shapes[i]; !s.dropped {
			report := s.report()
			r.Channels = append(r.Channels, report)
			r.Keys, r.Baked = r.Keys+report.Keys, r.Baked+report.Baked
		}
	}
	comment := fmt.Sprintf("Imported from %s, clip %s, within %s of it", strings.Trim(quoted(file), `"`), quoted(f.clip.Name), within)
	if f.heldCM > 0 {
		comment += fmt.Sprintf(", with what stays within %s cm held still", number(f.heldCM, 3))
	}
	comment += "."
	r.SheetText = f.writeSheet(r.SheetName, r.SheetFile, r.RigName, r.RigFile, comment, b, channels)
}

// bakedKeys is how many keys the clip spends on a series.
func (f *figure) bakedKeys(s *series) int {
	if s.made {
		return 0
	}
	if t := f.skeleton.tracked[[2]int{f.skeleton.joints[s.joint].node, int(s.property)}]; t != nil {
		return len(t.times)
	}
	return 0
}

// roundUp rounds an error up to so many decimals, so that a report never claims less.
func roundUp(x float64, decimals int) string {
	scale := math.Pow(10, float64(decimals))
	return number(math.Ceil(x*scale-1e-9)/scale, decimals)
}
