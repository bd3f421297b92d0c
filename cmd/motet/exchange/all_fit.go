package exchange

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// A together is what came of clips that were fitted over one rig.
type together struct {
	*ensemble
	beats    []beat
	channels [][]channel
	offs     []errorReport
	results  []*Result // by clip
	text     string    // of the rig
	// held are, by clip, the limbs whose ends are held still, and asBaked the figures as the clips have them; nil where none
	// is held in any.
	held    [][]stilledLimb
	asBaked []*figure
	dials   int
	lines   []string // for a person, of the rig
}

// fit fits the cuts over one rig.
func (all *AllResult) fit(o AllOptions, cuts []cut, texts map[string]string) error {
	var u *union
	if o.Over != nil {
		cuts = all.seat(cuts, o.Over.Rig)
	} else {
		cuts, u = all.assemble(cuts)
	}
	if len(cuts) == 0 {
		return nil
	}
	if err := roomForAll(cuts); err != nil {
		return err
	}
	if o.Over == nil {
		// Each on its own first, to tell what one rig for all costs and saves.
		eachOf(len(cuts), func(k int) {
			c := &cuts[k]
			c.alone, _ = c.doc.importClip(c.clip, o.Options)
		})
	} else {
		texts[fileKey(o.Over.File)] = o.Over.Text
	}
	names, why := nameSheets(cuts, texts)
	t, err := o.fitTogether(cuts, names, texts)
	if err != nil {
		return err
	}
	for k, r := range t.results {
		c := &all.Clips[cuts[k].at]
		if c.Result != nil { // why the sheet that it carries was not taken
			r.Report = append(slices.Clone(c.Report), r.Report...)
		}
		if why[k] != "" {
			r.Report = append(r.Report, why[k])
		}
		c.Result, c.Outside = r, !t.offs[k].inside()
	}
	all.Rig, all.Dials = TextFile{t.results[0].RigFile, t.text}, t.dials
	if o.Over != nil {
		for _, r := range t.results {
			r.RigFile, r.RigText = "", "" // it was there before
		}
	} else {
		for _, d := range u.docs {
			if left := u.leftOut(d); left != "" {
				all.Report = append(all.Report, left)
			}
		}
	}
	all.Report = append(all.Report, t.summary(all, cuts, t.channels, t.offs)...)
	all.Report = append(all.Report, t.lines...)
	return nil
}

// fitTogether fits clips over one rig. One whose sheet, as the language reads it, would not keep it with its limbs solved is
// fitted again with none solved in it.
func (o *AllOptions) fitTogether(cuts []cut, names []string, texts map[string]string) (*together, error) {
	rig := Result{}
	if o.Over != nil {
		rig.RigName, rig.RigFile = o.Over.Rig.Name, o.Over.File
	}
	spared, unkept := make([]bool, len(cuts)), make([]error, len(cuts))
	free := make([]map[int]bool, len(cuts)) // by clip, the ends that are left as they jitter
	for k := range free {
		free[k] = map[int]bool{}
	}
	for {
		t := &together{}
		if err := t.settleAll(o, cuts, spared, free); err != nil {
			return nil, err
		}
		if t.freeUnplanted(free) {
			continue // they would be bent for nothing
		}
		if rig.RigFile == "" {
			rig.RigName = o.rigName(t.lead.document)
			rig.RigFile = freeName(rig.RigName+rigEnd, texts) + sheetEnd
		}
		if err := t.write(o, cuts, names, rig); err != nil {
			return nil, err
		}
		again := false
		for k, f := range t.figures {
			r := t.results[k]
			if len(r.Plants) == 0 {
				continue
			}
			if off := f.proves(r, o.Within, proofSlack*math.Max(1, t.offs[k].ratio)); off != nil && !spared[k] {
				spared[k], unkept[k], again = true, off, true
			}
		}
		if again {
			continue
		}
		for k, off := range unkept {
			if off != nil {
				t.results[k].Report = append(t.results[k].Report, fmt.Sprintf("nothing is planted, since the sheet would not have kept the clip: %v", off))
			}
		}
		return t, nil
	}
}

// rigName is the name of a new rig: the one that was asked for, or that of the file that it is made of.
func (o *AllOptions) rigName(d *Document) string {
	name := o.Name
	if name == "" {
		name = fileWord(baseName(d.Path))
	}
	return plainWord(name, "figure")
}

// settleAll samples clips and fits their curves. In clips that are not spared, ends that jitter are held still where that is
// asked for, but those that are free.
func (t *together) settleAll(o *AllOptions, cuts []cut, spared []bool, free []map[int]bool) error {
	figures, err := sampledFigures(o, cuts)
	if err != nil {
		return err
	}
	t.ensemble = o.ensemble(figures)
	if err := t.holdStill(o, cuts, spared, free); err != nil {
		return err
	}
	t.beats = beatsOf(t.figures, o.TempoBPM)
	settled, offs := t.settle(o.Within, t.beats)
	if !o.NoPlants {
		settled, offs = settled.plant(o.Within, offs, spared)
	}
	t.ensemble, t.channels, t.offs = settled.ensemble, settled.channels, offs
	return nil
}

func sampledFigures(o *AllOptions, cuts []cut) ([]*figure, error) {
	figures, failed := make([]*figure, len(cuts)), make([]error, len(cuts))
	eachOf(len(cuts), func(k int) {
		c := &cuts[k]
		figures[k], failed[k] = sampledFigure(c.joined, c.clip, o.Options, c.bones)
	})
	return figures, errors.Join(failed...) // they were looked at before
}

// ensemble takes sampled clips for the motion of one rig.
func (o *AllOptions) ensemble(figures []*figure) *ensemble {
	if o.Over != nil {
		return ensembleOver(figures, o.Over.Rig, o.Options)
	}
	return ensembleOf(figures, o.Options)
}

// write makes the texts. rig is what the rig is called.
func (t *together) write(o *AllOptions, cuts []cut, names []string, rig Result) error {
	if o.Over != nil {
		t.nameFresh(t.channels)
		fresh := t.freshDials(t.channels)
		shapes, left := t.blendOver(o.Within, t.beats, t.offs, t.channels)
		text, err := t.rigText(o.Over, fresh, shapes)
		if err != nil {
			return err
		}
		t.text, t.dials, t.lines = text, len(o.Over.Rig.Channels)+len(fresh)+len(shapes), append(t.overLines(t.channels, fresh, shapes), left...)
	} else {
		t.nameChannels(t.channels)
		t.bakeRest(t.channels)
		if err := t.blendIn(o.Within, t.beats, t.offs); err != nil {
			return err
		}
		channels := t.rigChannels(t.channels)
		dials := len(t.lead.shapes)
		for _, c := range channels {
			if !c.dropped {
				dials++
			}
		}
		t.text, t.dials = t.lead.writeRig(rig.RigName, rig.RigFile, baseName(t.lead.document.Path), channels), dials
	}
	rig.RigText = t.text
	t.tellHeld(o)
	t.results = t.resultsOf(o, cuts, names, rig)
	return nil
}

func beatsOf(figures []*figure, tempoBPM float64) []beat {
	beats := make([]beat, len(figures))
	for k, f := range figures {
		beats[k] = f.findBeat(tempoBPM)
	}
	return beats
}

// resultsOf are what came of the clips.
func (t *together) resultsOf(o *AllOptions, cuts []cut, names []string, rig Result) []*Result {
	out := make([]*Result, len(cuts))
	for k, f := range t.figures {
		file := baseName(cuts[k].doc.Path)
		r := &Result{RigName: rig.RigName, RigFile: rig.RigFile, RigText: rig.RigText, SheetName: names[k], SheetFile: names[k] + sheetEnd}
		f.result(r, file, o.Within, t.beats[k], t.channels[k], t.offs[k])
		r.Plants = f.plantReports()
		r.Report = f.outline(file, o.Within, t.beats[k], r, t.offs[k])
		r.Report = append(r.Report, f.warnings()...)
		if f.moving == 0 && !slices.ContainsFunc(f.skeleton.weights, func(w weightPath) bool { return w.moves() }) {
			r.Report = append(r.Report, "nothing moves in it: the sheet is a pose that is held")
		}
		out[k] = r
	}
	return out
}
