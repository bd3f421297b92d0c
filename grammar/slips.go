package grammar

import (
	"cmp"
	"slices"
	"strconv"
	"strings"
)

// Sure tells whether a fault's mend only writes the same number, time or comment as the language spells it, or indents the line.
// Another word is a guess, and so is where the cells of a short row belong.
func (f *Fault) Sure() bool {
	if f.Note {
		return true
	}
	for _, e := range f.Edits {
		if strings.TrimSpace(e.Text) == "#" {
			continue
		}
		switch Classify(e.Text) {
		case Number, Marked, TimeAtom, Percent, Quantity:
		default:
			return false
		}
	}
	return !f.Guess && len(f.Edits) > 0
}

// mendFurther adds to a sure mend of a line those of the slips that show once it is made, as far as they are sure too, so
// that one mend puts the line right. reread gives what is wrong with a text in the line's place.
func (f *Fault) mendFurther(text string, reread func(text string) *Fault) {
	const most = 64 // slips of one line, so that it ends whatever the mends do
	first := len(f.Edits)
	for range most {
		if !f.Sure() {
			return
		}
		next := reread(applyToLine(text, f.Edits))
		if next == nil || !next.Sure() || !f.also(next.Edits) {
			break
		}
	}
	if len(f.Edits) > first {
		f.Title = "write " + listed(f.Edits)
	}
}

// also adds edits of the mended line to a fault's edits, which count in the line as it was. It is false, and changes
// nothing, where one of them straddles what is mended already.
func (f *Fault) also(edits []LineEdit) bool {
	all := slices.Clone(f.Edits)
	for _, e := range edits {
		longer := 0 // how much longer the edits before this place make the line
		inside := -1
		for i, done := range f.Edits {
			from := done.Span.Start + longer
			to := from + len(done.Text)
			switch {
			case e.Span.End <= from:
			case to <= e.Span.Start:
				longer += len(done.Text) - done.Span.Len()
			case from <= e.Span.Start && e.Span.End <= to:
				inside = i
				all[i].Text = done.Text[:e.Span.Start-from] + e.Text + done.Text[e.Span.End-from:]
			default:
				return false
			}
		}
		if inside < 0 {
			all = append(all, LineEdit{Span{e.Span.Start - longer, e.Span.End - longer}, e.Text})
		}
	}
	slices.SortFunc(all, func(a, b LineEdit) int { return cmp.Compare(a.Span.Start, b.Span.Start) })
	f.Edits = all
	return true
}

// foreignComment is a comment as other languages write it, with ; or // at a place of a line; nil where none is there. Whether
// that is sure is for whoever knows the rest of the line.
func foreignComment(text string, at int) *Fault {
	rest := text[at:]
	sign := rest[:len(rest)-len(strings.TrimLeft(rest, ";/"))]
	if !strings.HasPrefix(sign, ";") && !strings.HasPrefix(sign, "//") {
		return nil
	}
	span := Span{at, at + len(sign)}
	fault := &Fault{Span: span, Message: "a comment begins with #", Title: "write #", Edits: []LineEdit{{span, "#"}}}
	if at > 0 && !isSpace(rune(text[at-1])) {
		fault.Edits[0].Text = " #"
	}
	return fault
}

// commentMeant looks whether a line that does not parse does once what stands behind a ; or a // is a comment, also where the
// sign is glued to what stands before it.
func (p *blockParser) commentMeant(i int, l *Line) {
	if l.Kind != BadLine || l.Fault == nil || p.info == nil {
		return
	}
	for _, t := range Tokens(l.Text) {
		if t.Class != Illegal {
			continue
		}
		atom := l.Text[t.Span.Start:t.Span.End]
		at := t.Span.Start
		if foreignComment(l.Text, at) == nil {
			at += len(strings.TrimRight(atom, ";/"))
		}
		fault := foreignComment(l.Text, at)
		if fault == nil {
			continue
		}
		if at > t.Span.Start && strings.TrimSpace(l.Text[t.Span.End:]) == "" {
			return // nothing is said behind it
		}
		left := p.reread(i, applyToLine(l.Text, fault.Edits))
		if left == nil || left.Sure() {
			l.Fault = fault
		}
		return
	}
}

func applyToLine(text string, edits []LineEdit) string {
	var out strings.Builder
	at := 0
	for _, e := range edits {
		out.WriteString(text[at:e.Span.Start] + e.Text)
		at = e.Span.End
	}
	return out.String() + text[at:]
}

// listed quotes what some edits write, three of them at most.
func listed(edits []LineEdit) string {
	const most = 3
	var texts []string
	for _, e := range edits[:min(len(edits), most)] {
		texts = append(texts, quoteShort(e.Text))
	}
	last := texts[len(texts)-1]
	if more := len(edits) - most; more > 0 {
		texts, last = append(texts, ""), strconv.Itoa(more)+" more"
	}
	return strings.Join(texts[:len(texts)-1], ", ") + " and " + last
}
