package exchange

import (
	"errors"
	"fmt"
	"path"
	"slices"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// AllOptions say what to import over one rig.
type AllOptions struct {
	// Paths are the glTF files, and Options what holds for all their clips. Of its Clip, the star stands for any characters;
	// when left out, all clips are meant.
	Paths []string
	Options
	// Name is the rig's; that of the file that it is made of when left out.
	Name string
	// Over is a rig that there is already, for the clips to go over; a rig is made when left out. Dials that a clip needs
	// and the rig lacks are added to it.
	Over *OverRig
}

// AllResult is what an import of several clips makes.
type AllResult struct {
	// Files are all texts to write, each once: rigs before the sheets that need them.
	Files []TextFile
	// Clips are what came of each clip, in the order of the files.
	Clips []ClipResult
	// Report tells in lines for a person what was made of all of them.
	Report []string
	// Rig is the rig of the clips that were fitted, and Dials how many channels it has; empty and 0 where none was. It is one
	// of the Files, but where it was there already: then it may have another text now.
	Rig   TextFile
	Dials int
}

// A ClipResult is what came of one clip: what an import made, or why it could not. A file that can't be read is one of
// them without a name.
type ClipResult struct {
	Path, Clip string
	*Result
	Err error
	// Outside says that the sheet is not within the limits everywhere.
	Outside bool
}

// moreOfAll is how many times as much is read at once of all clips together as of one, see mostJointFrames.
const moreOfAll = 3

// A cut is a clip that is fitted together with others.
type cut struct {
	at     int // among the results
	doc    *Document
	joined *Document // the file with the nodes of the others' skeleton that it lacks
	bones  []joint   // the rig's joints there
	clip   *Clip
	time   timing
	alone  *Result
}

// ImportAll reads all clips of files that show one skeleton, and makes a sheet of each over one rig: a dial means the same
// in all of them. A clip that carries its sheet comes back as that. What can't be done of one clip is told beside it and
// costs the others nothing; the error is for what leaves none.
func ImportAll(o AllOptions) (*AllResult, error) {
	if o.TempoBPM != 0 && !(o.TempoBPM >= 1 && o.TempoBPM <= 1000) {
		return nil, fmt.Errorf("a tempo of %g bpm is none; write one from 1 to 1000", o.TempoBPM)
	}
	asked := o.Options
	if o.Within == (Within{}) {
		o.Within = DefaultWithin()
	}
	all := &AllResult{}
	texts := map[string]string{} // by the file's name as file systems compare it
	var cuts []cut
	for _, file := range o.Paths {
		d, err := Read(file, o.ReadFile)
		if err == nil && len(d.Clips) == 0 {
			err = fmt.Errorf("%s: the file has no animation; export it with one", file)
		}
		if err != nil {
			all.Clips = append(all.Clips, ClipResult{Path: file, Err: err})
			continue
		}
		joints := len(d.bones(nil))
		for i := range d.Clips {
			if clip := &d.Clips[i]; o.Clip == "" || like(o.Clip, clip.Name) || like(o.Clip, d.word(i)) {
				cuts = all.take(cuts, d, clip, joints, asked, texts)
			}
		}
		all.Report = append(all.Report, d.Notes...)
	}
	if len(all.Clips) == 0 {
		return nil, fmt.Errorf("no clip is called %q; `motet import --list` names them", o.Clip)
	}
	if err := all.fit(o, cuts, texts); err != nil {
		return nil, err
	}
	all.gather()
	if len(all.Files) == 0 {
		return nil, all.failure()
	}
	return all, nil
}

// like tells whether a name is a pattern's, in which a star stands for any characters.
func like(pattern, name string) bool {
	parts := strings.Split(pattern, "*")
	rest, found := strings.CutPrefix(name, parts[0])
	if !found || len(parts) == 1 {
		return found && rest == ""
	}
	for _, part := range parts[1 : len(parts)-1] {
		_, after, has := strings.Cut(rest, part)
		if !has {
			return false
		}
		rest = after
	}
	return strings.HasSuffix(rest, parts[len(parts)-1])
}

// take looks at one clip: the sheet that it carries is taken as it is, and a clip that can be fitted is added to the cuts.
func (all *AllResult) take(cuts []cut, d *Document, clip *Clip, joints int, asked Options, texts map[string]string) []cut {
	all.Clips = append(all.Clips, ClipResult{Path: d.Path, Clip: clip.Name})
	at := len(all.Clips) - 1
	c := &all.Clips[at]
	if asked.asItComes() {
		var said string
		if c.Result, said = d.carried(clip); c.Result != nil {
			c.Err = c.Result.claim(texts)
			return cuts
		}
		if said != "" {
			c.Result = &Result{Report: []string{said}}
		}
	}
	t, err := timingOf(clip, asked.Rate)
	if err == nil {
		err = d.roomFor(clip, t, joints)
	}
	if err != nil {
		c.Err = err
		return cuts
	}
	return append(cuts, cut{at: at, doc: d, clip: clip, time: t})
}

// claim takes a carried sheet's files, unless another clip brought another text for one of them.
func (r *Result) claim(texts map[string]string) error {
	files := r.Files()
	for _, file := range files {
		if other, taken := texts[fileKey(file.Name)]; taken && other != file.Text {
			return fmt.Errorf("it carries %s, and so does another clip, with another text; import it on its own into another folder, with --clip and --out", file.Name)
		}
	}
	for _, file := range files {
		texts[fileKey(file.Name)] = file.Text
	}
	return nil
}

// Files are all files that an import makes, the rig first, where it makes one, and the sheet last.
func (r *Result) Files() []TextFile {
	var out []TextFile
	if r.RigFile != "" {
		out = append(out, TextFile{r.RigFile, r.RigText})
	}
	out = append(out, r.Others...)
	return append(out, TextFile{r.SheetFile, r.SheetText})
}

// seat gives cuts the joints of a rig that there is, without the clips that do not fit it.
func (all *AllResult) seat(cuts []cut, rig *motion.Rig) []cut {
	clips := map[*Document][]*Clip{}
	for _, c := range cuts {
		clips[c.doc] = append(clips[c.doc], c.clip)
	}
	type seats struct {
		joined *Document
		bones  []joint
		err    error
	}
	known := map[*Document]seats{}
	var out []cut
	for _, c := range cuts {
		s, seen := known[c.doc]
		if !seen {
			s.joined, s.bones, s.err = c.doc.bonesOver(rig, clips[c.doc])
			known[c.doc] = s
		}
		err := s.err
		if err == nil {
			err = c.doc.foreignTo(rig, s.bones, c.clip)
		}
		if all.Clips[c.at].Err = err; err == nil {
			c.joined, c.bones = s.joined, s.bones
			out = append(out, c)
		}
	}
	return out
}

// assemble brings the files of the cuts together, without the clips that do not fit the others' skeleton.
func (all *AllResult) assemble(cuts []cut) ([]cut, *union) {
	for {
		var docs []*Document
		clips := map[*Document][]*Clip{}
		for _, c := range cuts {
			if clips[c.doc] == nil {
				docs = append(docs, c.doc)
			}
			clips[c.doc] = append(clips[c.doc], c.clip)
		}
		if len(docs) == 0 {
			return nil, nil
		}
		u := unite(docs, clips)
		for k := range cuts {
			cuts[k].joined = u.docs[slices.Index(docs, cuts[k].doc)]
			cuts[k].bones = u.bones[cuts[k].joined]
		}
		left := slices.DeleteFunc(slices.Clone(cuts), func(c cut) bool {
			err := u.misfit(c.joined, c.clip)
			if err != nil {
				all.Clips[c.at].Err = err
			}
			return err != nil
		})
		// A file of which no clip is left has no say in what the rig's joints are.
		if len(left) == len(cuts) {
			return cuts, u
		}
		cuts = left
	}
}

// gather lists the files of all clips, each once.
func (all *AllResult) gather() {
	seen := map[string]bool{}
	add := func(files ...TextFile) {
		for _, file := range files {
			if !seen[file.Name] {
				seen[file.Name] = true
				all.Files = append(all.Files, file)
			}
		}
	}
	for _, c := range all.Clips {
		if c.Err == nil && c.Result != nil {
			files := c.Result.Files()
			add(files[:len(files)-1]...)
		}
	}
	for _, c := range all.Clips {
		if c.Err == nil && c.Result != nil {
			files := c.Result.Files()
			add(files[len(files)-1])
		}
	}
}

// failure is why nothing was made.
func (all *AllResult) failure() error {
	var lines []string
	for _, c := range all.Clips {
		lines = append(lines, c.Trouble())
	}
	return errors.New(strings.Join(lines, "\n"))
}

// Trouble says which clip was not imported, and why; empty where it was.
func (c *ClipResult) Trouble() string {
	switch {
	case c.Err == nil:
		return ""
	case c.Clip == "" && strings.HasPrefix(c.Err.Error(), c.Path):
		return c.Err.Error()
	}
	return fmt.Sprintf("%s: clip %q: %s", c.Path, c.Clip, c.Err)
}

// nameSheets gives each sheet a name of its own: the clip's or, where several clips go by that one, the file's, and a number
// where that does not tell them apart. why says so in a line where it is not the clip's.
func nameSheets(cuts []cut, texts map[string]string) (names, why []string) {
	uses := map[string]int{}
	word := func(c cut) string {
		if c.clip.Name == "" && len(c.doc.Clips) == 1 {
			return fileWord(baseName(c.doc.Path))
		}
		return clipWord(c.clip.Name, "clip")
	}
	for _, c := range cuts {
		uses[fileKey(word(c))]++
	}
	for _, c := range cuts {
		own, reason := word(c), ""
		name := own
		if uses[fileKey(own)] > 1 && len(c.doc.Clips) == 1 {
			name = fileWord(baseName(c.doc.Path))
		}
		switch name = freeName(name, texts); {
		case clipWord(c.clip.Name, "") == "":
			reason = fmt.Sprintf("the clip's name %q makes no name of a sheet; the sheet is called %s", c.clip.Name, name)
		case name != own:
			reason = fmt.Sprintf("other sheets would be called %s too; this one is called %s", own, name)
		}
		names, why = append(names, name), append(why, reason)
	}
	return names, why
}

// freeName is a word that is no file's name yet, with a number where it must have one, and takes it.
func freeName(word string, texts map[string]string) string {
	name := word
	for n := 2; ; n++ {
		if _, taken := texts[fileKey(name+sheetEnd)]; !taken {
			break
		}
		name = numbered(word, n)
	}
	texts[fileKey(name+sheetEnd)] = ""
	return name
}

// fileKey is a file's name as those file systems compare it that take capitals for small letters, and accents for the same
// however they are typed.
func fileKey(name string) string { return strings.ToLower(grammar.NameKey(path.Clean(name))) }

// roomForAll says why clips are too large to be sampled together.
func roomForAll(cuts []cut) error {
	joints := len(cuts[0].bones)
	frames, moving := 0, 0
	files := map[*Document]bool{}
	var together Document
	for _, c := range cuts {
		frames, moving = frames+c.time.frames, moving+c.clip.nodes()*c.time.frames
		if !files[c.doc] {
			files[c.doc] = true
			together.bytes += c.doc.bytes
		}
	}
	most, mostMoving := moreOfAll*together.stillFrames(), moreOfAll*together.jointFrames()
	if moving > mostMoving || joints*frames > most {
		return fmt.Errorf("the %s are %d frames of %s together, more than is read at once (%d joint frames, %d of them moving); import fewer at once, such as --clip 'walk*'", count(len(cuts), "clip"), frames, count(joints, "joint"), most, mostMoving)
	}
	return nil
}
