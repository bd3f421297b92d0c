package motion

import (
	"path"
	"slices"
	"strings"
	"sync"
	"sync/atomic"

	"github.com/motet-sheet/motet/grammar"
)

// Family is what a cast of sheets has in common, and its members.
type Family struct {
	Name    string
	Block   *grammar.Block
	Members []Member // in the order of their files' names
	Each    []string // the clips that every person needs
	Pattern string   // how members are named, such as {who}-{clip}; empty for none
	// SameOpening, SpreadPhases and SameLengths are what the family asks for.
	SameOpening, SpreadPhases, SameLengths bool
	Distinct                               float64 // how different members must be, as a share; 0 where it does not say
	// Unread are the files that `members` names and whose sheet cannot be told, since the line that opens it is broken.
	Unread []string
	// Missed is the pattern of `members`, from the project's root, where files were looked for and no sheet's name fits.
	Missed string
	// Lines are the family's lines, by their first word.
	Lines map[string]grammar.Ref

	apart atomic.Pointer[distances] // of the members last compared
}

// Member is one sheet of a family.
type Member struct {
	Path   string
	Name   string
	Motion *Motion
}

// At is the place of one of the family's lines, or of its first one where that line is left out.
func (f *Family) At(word string) grammar.Ref {
	if ref, ok := f.Lines[word]; ok {
		return ref
	}
	return f.Block.RefLine(f.Block.Open)
}

// Listing gives the names of the files in a folder, from the project's root, with slashes; the root is ".". A folder
// that is not there has none.
type Listing func(folder string) []string

// WithListing lets a project look for the members of families.
func (p *Project) WithListing(list Listing) *Project {
	p.list = list
	return p
}

// Family is the file's family with all its members resolved, or nil where the file has none. The members are resolved
// when it is first asked for.
func (m *Motion) Family() *Family {
	if m.family == nil {
		return nil
	}
	return m.family()
}

// families reads the file's family block. A second one is reported.
func (r *resolver) families() {
	var first *grammar.Block
	for _, b := range r.File.Blocks {
		if b.Kind != grammar.FamilyBlock {
			continue
		}
		if first != nil {
			problem := r.add(ruleRepeatedName, b.RefLine(b.Open), "the file already has a family; move this one to a file of its own")
			problem.Related = []Related{{first.RefLine(first.Open), "the first one"}}
			continue
		}
		first = b
		f := r.readFamily(b)
		project, file, cast := r.project, r.File, new(atomic.Pointer[Family])
		var before *Family
		if r.earlier != nil && r.earlier.cast != nil {
			before = r.earlier.cast.Load()
		}
		r.cast, r.family = cast, sync.OnceValue(func() *Family {
			project.membersAgain(f, file, before)
			cast.Store(f)
			return f
		})
	}
}

func (r *resolver) readFamily(b *grammar.Block) *Family {
	f := &Family{Block: b, Lines: map[string]grammar.Ref{}}
	if opener, ok := b.Opener.(*grammar.FamilyLine); ok {
		f.Name = opener.Name.Key()
	}
	seen := map[string]int{}
	for i, stmt := range b.Entries() {
		r.once(b, i, seen)
		word := b.Lines[i].FirstWord()
		if _, twice := f.Lines[word]; twice {
			continue
		}
		f.Lines[word] = b.RefLine(i)
		f.set(stmt)
		if line, ok := stmt.(*grammar.MembersLine); ok {
			if _, reason := linkedPath(r.File.Path, line.Files.Text()); reason != "" {
				r.add(ruleUnknownName, b.Ref(i, line.Files.Where()), "the file name `%s` %s", line.Files.Text(), reason)
			}
		}
	}
	if f.Lines["members"].IsZero() && !hasBadLine(b) {
		r.add(ruleMissingLine, b.RefLine(b.Open), "the family has no members; name their files, such as `members \"*.motet\"`")
	}
	return f
}

func (f *Family) set(stmt grammar.Statement) {
	switch line := stmt.(type) {
	case *grammar.EachLine:
		for _, clip := range line.Clips {
			f.Each = append(f.Each, clip.Key())
		}
	case *grammar.PatternLine:
		f.Pattern = line.Pattern.Text()
	case *grammar.OpeningLine:
		f.SameOpening = true
	case *grammar.PhasesLine:
		f.SpreadPhases = true
	case *grammar.LengthsLine:
		f.SameLengths = true
	case *grammar.DistinctLine:
		f.Distinct = line.Share.Decimal.Value / 100
	}
}

// membersAgain is members for a family of which an earlier version, nil for none, has had its members resolved.
func (p *Project) membersAgain(f *Family, file *grammar.File, before *Family) {
	if before != nil {
		earlier := make([]*Motion, len(before.Members))
		for i := range before.Members {
			earlier[i] = before.Members[i].Motion
		}
		defer p.after(earlier...)()
		f.apart.Store(before.apart.Load())
	}
	p.members(f, file)
}

// members finds and resolves the sheets that a family's `members` line names.
func (p *Project) members(f *Family, file *grammar.File) {
	ref, ok := f.Lines["members"]
	if !ok || p.list == nil {
		return
	}
	line := ref.Block.Lines[ref.Line].Stmt.(*grammar.MembersLine)
	pattern, reason := linkedPath(file.Path, line.Files.Text())
	if reason != "" {
		return
	}
	names := p.list(path.Dir(pattern))
	slices.Sort(names)
	for _, name := range names {
		if fits, err := path.Match(pattern, name); err != nil || !fits {
			continue
		}
		sheet, err := p.trees(name)
		if err != nil {
			continue
		}
		if sheet.First(grammar.SheetBlock) == nil {
			if !hasAnotherUse(sheet) {
				f.Unread = append(f.Unread, name)
			}
			continue
		}
		m := p.shared(sheet)
		if m.Sheet.Name == "" {
			f.Unread = append(f.Unread, name) // its opening line is broken, which is its own report
			continue
		}
		f.Members = append(f.Members, Member{Path: name, Name: m.Sheet.Name, Motion: m})
	}
	if f.Members == nil && f.Unread == nil {
		f.Missed = pattern
	}
}

// hasAnotherUse tells whether a file without a sheet has something else to be for: a rig, a house, a family.
func hasAnotherUse(file *grammar.File) bool {
	return file.First(grammar.RigBlock) != nil || file.First(grammar.HouseBlock) != nil || file.First(grammar.FamilyBlock) != nil
}

// Person splits a member's name by the family's pattern into who it is and which clip; it is false where the name does
// not fit. Where several clips fit, the longest one counts, so that slow-wait is no wait of somebody slow. Without a
// pattern the whole name is the person.
func (f *Family) Person(name string) (who, clip string, ok bool) {
	if f.Pattern == "" {
		return name, "", true
	}
	for _, c := range f.Each {
		w, fits := between(strings.ReplaceAll(grammar.NameKey(f.Pattern), "{clip}", c), name)
		if fits && (!ok || len(c) > len(clip)) {
			who, clip, ok = w, c, true
		}
	}
	return who, clip, ok
}

// between finds what stands for {who} in a name.
func between(pattern, name string) (who string, ok bool) {
	before, after, found := strings.Cut(pattern, "{who}")
	if !found || !strings.HasPrefix(name, before) || !strings.HasSuffix(name, after) || len(name) <= len(before)+len(after) {
		return "", false
	}
	return name[len(before) : len(name)-len(after)], true
}

// ScaleOf is by what a value of another motion's channel is multiplied to be the same share of this one's figure: lengths
// in cm scale with the rigs' heights, as they do in a variant.
func (m *Motion) ScaleOf(other *Motion, dial *Dial) float64 {
	if dial.Unit != "cm" || m.Rig == other.Rig || !(m.Rig.Height > 0) || !(other.Rig.Height > 0) {
		return 1
	}
	return m.Rig.Height / other.Rig.Height
}
