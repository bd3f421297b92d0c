package server

import (
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
	"go.lsp.dev/protocol"
	"go.lsp.dev/uri"
)

// refactoring is another way to write a document.
type refactoring struct {
	title string
	kind  protocol.CodeActionKind
	edits []grammar.Edit
	// moves says that it is meant to change the motion; all others keep it as it is.
	moves bool
}

// refactorings are the other ways to write what stands between two bytes of the document; what is no matter of rows goes by
// the first.
func (snap snapshot) refactorings(offset, end int) []refactoring {
	tree := snap.tree()
	at := refAt(tree, offset)
	if at.IsZero() {
		return nil
	}
	r := &rewriter{tree: tree, b: at.Block, line: at.Line, motion: snap.motionOf}
	switch at.Block.Kind {
	case grammar.TrackBlock, grammar.AmendBlock, grammar.BlockingBlock, grammar.NotesBlock:
		r.inUnit("b", "beats")
		r.inUnit("f", "frames")
		if at.Block.Kind == grammar.TrackBlock {
			r.closeRow()
			r.addRow()
			r.mirrorTrack()
			r.splitTrack(snap, cellAt(at))
		}
		r.liftRow()
	case grammar.PoseBlock:
		r.foldPose(snap)
	case grammar.OverlapBlock:
		r.spreadOverlap()
	}
	if offset < end {
		r.moveRows(rowsIn(tree, offset, end))
	}
	return r.out
}

// cellAt is the cell of a row or of a row of names at a place; -1 for none.
func cellAt(at grammar.Ref) int {
	return slices.IndexFunc(at.Block.Lines[at.Line].Cells, func(c grammar.Cell) bool { return c.Span.Contains(at.Span.Start) })
}

// motionOf is the document's motion; its sheet may be missing.
func (snap snapshot) motionOf() *motion.Motion { return snap.motion() }

type rewriter struct {
	tree   *grammar.File
	b      *grammar.Block
	line   int
	motion func() *motion.Motion
	out    []refactoring
}

func (r *rewriter) offer(title string, kind protocol.CodeActionKind, moves bool, edits ...grammar.Edit) {
	if 0 < len(edits) {
		r.out = append(r.out, refactoring{title, kind, edits, moves})
	}
}

func (r *rewriter) replace(line int, span grammar.Span, text string) grammar.Edit {
	at, _ := r.tree.Locate(r.b.Ref(line, span))
	return grammar.Edit{Span: at, Text: text}
}

// behind is an edit that writes a line below another one.
func (r *rewriter) behind(b *grammar.Block, line int, text string) grammar.Edit {
	l := &b.Lines[line]
	at, _ := r.tree.Locate(b.Ref(line, grammar.Span{Start: len(l.Text), End: len(l.Text)}))
	return grammar.Edit{Span: at, Text: r.lineEnd() + text}
}

func (r *rewriter) lineEnd() string {
	if strings.Contains(r.tree.Text, "\r\n") {
		return "\r\n"
	}
	return "\n"
}

// inUnit writes every time of the block's rows in one unit. Times are exact in each, so that nothing moves.
func (r *rewriter) inUnit(unit, name string) {
	s := r.motion().Sheet
	if s == nil || s.Beat.Sign() <= 0 {
		return
	}
	var edits []grammar.Edit
	for line := range r.b.Rows() {
		cells := r.b.Lines[line].Cells
		for i := range cells {
			if cells[i].Time == nil || len(r.b.Columns) <= i || r.b.Columns[i].Kind != grammar.TimeColumn {
				continue
			}
			frames := cells[i].Time.In(s.Rate, s.Beat)
			t := grammar.Time{Frames: frames}
			if unit == "b" {
				t = grammar.Time{Beats: s.Beats(frames)}
			}
			text := t.String()
			if frames.IsZero() {
				text = "0" + unit
			}
			if !t.OK() {
				return
			}
			if text != r.b.Lines[line].CellText(i) {
				edits = append(edits, r.cell(line, i, text))
			}
		}
	}
	r.offer("write the times of this block in "+name, protocol.CodeActionKindRefactorRewrite, false, edits...)
}

// cell replaces a cell and takes the spaces behind it along, so that the next cell stays where it is as far as there is
// room.
func (r *rewriter) cell(line, i int, text string) grammar.Edit {
	l := &r.b.Lines[line]
	span := l.Cells[i].Span
	if i+1 < len(l.Cells) {
		room := l.Cells[i+1].Span.Start - span.Start
		span.End = l.Cells[i+1].Span.Start
		text += strings.Repeat(" ", max(room-len(text), 1))
	}
	return r.replace(line, span, text)
}

// closeRow writes out the row at the end of a cycle, which comes by itself. Only channels that have a key at the start
// get a value, since a key at the end of others would be a new one.
func (r *rewriter) closeRow() {
	m := r.motion()
	_, period, ok := closingRow(m, r.b)
	if !ok {
		return
	}
	control, layer, _ := trackOf(r.b)
	first, last := -1, -1
	for line := range r.b.Rows() {
		if t := r.b.Lines[line].Cells[0].Time; t != nil && t.In(m.Sheet.Rate, m.Sheet.Beat).IsZero() && first < 0 {
			first = line
		}
		last = line
	}
	if first < 0 || r.b.Muted {
		return
	}
	row := []string{fmt.Sprintf("  %-7s", timeLike(m.Sheet, r.b.Lines[last].CellText(0), period))}
	some := false
	for i := 1; i < len(r.b.Columns); i++ {
		text := "."
		cell := &r.b.Lines[first].Cells[i]
		if strand := strandOf(orEmpty(m.Channel(control+"/"+grammar.NameKey(r.b.Columns[i].Name))), layer); strand != nil &&
			(cell.Class == grammar.Number || cell.Class == grammar.Marked) && strand.Curve.Extent().Gain == 0 {
			text, some = strings.TrimRight(r.b.Lines[first].CellText(i), "~^>="), true
			text, _, _ = strings.Cut(text, "@")
		}
		row = append(row, fmt.Sprintf("%-7s", text))
	}
	if some {
		r.offer("write out the closing row", protocol.CodeActionKindRefactorRewrite, false,
			r.behind(r.b, last, strings.TrimRight(strings.Join(row, " "), " ")))
	}
}

func orEmpty(c *motion.Channel) *motion.Channel {
	if c == nil {
		return &motion.Channel{}
	}
	return c
}

// liftRow makes a pose of where all keyed channels are at the time of a row, as their curves are written.
func (r *rewriter) liftRow() {
	l := &r.b.Lines[r.line]
	m := r.motion()
	if l.Kind != grammar.RowLine || l.Cells[0].Time == nil || !m.Whole() {
		return
	}
	frames := l.Cells[0].Time.In(m.Sheet.Rate, m.Sheet.Beat)
	if !frames.OK() {
		return
	}
	stem := "at-" + strings.NewReplacer("/", "-", ".", "-", "+", "-").Replace(l.CellText(0))
	name := stem
	for n := 2; slices.ContainsFunc(m.Poses, func(p *motion.Pose) bool { return p.Name == name }); n++ {
		name = fmt.Sprintf("%s-%d", stem, n)
	}
	end := r.lineEnd()
	var text strings.Builder
	text.WriteString("pose " + name + end)
	for i := range m.Channels {
		if c := &m.Channels[i]; c.Base != nil {
			fmt.Fprintf(&text, "  %-17s %s%s", c.Dial.Path, figure(c.Base.Curve.At(frames.Float()), 3), end)
		}
	}
	at, ok := r.tree.Locate(r.b.Ref(0, grammar.Span{}))
	if ok {
		r.offer("lift "+l.CellText(0)+" into the pose `"+name+"`", protocol.CodeActionKindRefactorExtract, false,
			grammar.Edit{Span: grammar.Span{Start: at.Start, End: at.Start}, Text: text.String() + end})
	}
}

// foldPose drops a pose that another one equals in every channel, and names that one in its place. A pose that other
// files name stays.
func (r *rewriter) foldPose(snap snapshot) {
	opener, ok := r.b.Opener.(*grammar.PoseLine)
	m := r.motion()
	if !ok || m.Rig == nil {
		return
	}
	own := slices.IndexFunc(m.Poses, func(p *motion.Pose) bool { return p.Block == r.b })
	if own < 0 {
		return
	}
	other := slices.IndexFunc(m.Poses, func(p *motion.Pose) bool { return p.Block != r.b && samePose(p, m.Poses[own]) })
	if other < 0 {
		return
	}
	keep := m.Poses[other]
	for _, p := range snap.kin().same(r.tree, mention{kind: poseName, key: opener.Name.Key()}) {
		if p.in != r.tree {
			return
		}
	}
	var edits []grammar.Edit
	for _, name := range mentions(r.tree) {
		if name.kind != poseName || name.key != opener.Name.Key() || name.at.Block == r.b {
			continue
		}
		if name.at.Block == keep.Block {
			return // it is made from the one that would go
		}
		span, _ := r.tree.Locate(name.at)
		edits = append(edits, grammar.Edit{Span: span, Text: keep.Name})
	}
	start, _ := r.tree.Locate(r.b.Ref(r.b.Open, grammar.Span{}))
	first, _ := r.tree.LineNumber(r.b.Ref(0, grammar.Span{}))
	end := r.tree.LineStart(first + len(r.b.Lines))
	edits = append(edits, grammar.Edit{Span: grammar.Span{Start: start.Start, End: end}})
	r.offer("fold into the pose `"+keep.Name+"`, which is the same", protocol.CodeActionKindRefactorRewrite, false, edits...)
}

func samePose(a, b *motion.Pose) bool {
	return len(a.Values) == len(b.Values) && !slices.ContainsFunc(a.Values, func(v motion.PoseValue) bool {
		other, ok := b.Value(v.Channel)
		return !ok || other.Value != v.Value
	})
}

// spreadOverlap lets the controls that hang on one play later and later, each a step further than the one that it hangs
// on. Controls that have a row already keep it.
func (r *rewriter) spreadOverlap() {
	entry, ok := r.b.Lines[r.line].Stmt.(*grammar.LateEntry)
	m := r.motion()
	if !ok || m.Rig == nil || m.Rig.JointIndex(entry.Controls.Text) < 0 {
		return
	}
	root := m.Rig.JointIndex(grammar.NameKey(entry.Controls.Text))
	steps := map[int]int64{root: 1}
	var rows []string
	for i := range m.Rig.Joints {
		j := &m.Rig.Joints[i]
		above, hangs := steps[j.Parent]
		if !hangs || i == root || len(m.Rig.ControlChannels(j.Name)) == 0 {
			if hangs && i != root {
				steps[i] = above // a joint without a control passes on what is above it
			}
			continue
		}
		steps[i] = above + 1
		if r.hasOverlap(j.Name) {
			continue
		}
		by := grammar.Whole(above + 1)
		t := entry.Late.Time
		late := grammar.Time{Frames: t.Frames.Mul(by), Beats: t.Beats.Mul(by), Seconds: t.Seconds.Mul(by)}
		rows = append(rows, fmt.Sprintf("  %-9s %s", j.Name, late))
	}
	if 0 < len(rows) {
		r.offer("spread the overlap from `"+entry.Controls.Text+"` outward, step by step", protocol.CodeActionKindRefactorRewrite, true,
			r.behind(r.b, r.line, strings.Join(rows, r.lineEnd())))
	}
}

func (r *rewriter) hasOverlap(control string) bool {
	for _, b := range r.tree.Blocks {
		if b.Kind != grammar.OverlapBlock {
			continue
		}
		for _, stmt := range b.Entries() {
			if entry, ok := stmt.(*grammar.LateEntry); ok && entry.Controls.Match(control) {
				return true
			}
		}
	}
	return false
}

// refactorActions adds the refactorings at a place as actions.
func (s *session) refactorActions(actions []protocol.CommandOrCodeAction, snap snapshot, offset, end int, only []protocol.CodeActionKind) []protocol.CommandOrCodeAction {
	if !wantsKind(only, protocol.CodeActionKindRefactorRewrite) && !wantsKind(only, protocol.CodeActionKindRefactorExtract) {
		return actions
	}
	for _, r := range snap.refactorings(offset, end) {
		if kind := r.kind; wantsKind(only, kind) {
			action := &protocol.CodeAction{Title: r.title, Kind: &kind}
			s.refactorEdit(snap, &r, offset, end, action)
			actions = append(actions, action)
		}
	}
	if action := s.variantAction(snap, offset); action != nil && wantsKind(only, protocol.CodeActionKindRefactorExtract) {
		actions = append(actions, action)
	}
	return actions
}

// variantAction makes a new file with a variant of the sheet, where the client can make files; nil where it can't, or
// the cursor is not in the sheet's header.
func (s *session) variantAction(snap snapshot, offset int) *protocol.CodeAction {
	at := refAt(snap.tree(), offset)
	if at.IsZero() || at.Block.Kind != grammar.SheetBlock || !s.client.creates || !s.client.versionedEdits || snap.path == "" {
		return nil
	}
	opener, ok := at.Block.Opener.(*grammar.SheetLine)
	if !ok {
		return nil
	}
	stem := strings.TrimSuffix(snap.path, sheetSuffix)
	number := 2
	for path := ""; ; number++ {
		path = fmt.Sprintf("%s-%d%s", stem, number, sheetSuffix)
		if _, open := opened(snap.world.documents, path); !open && !exists(path) {
			break
		}
	}
	address := uri.File(fmt.Sprintf("%s-%d%s", stem, number, sheetSuffix))
	name := fmt.Sprintf("%s-%d", opener.Name.Text, number)
	text := fmt.Sprintf("sheet %s\n  from      %s in \"%s\"\n\nchange\n", name, opener.Name.Text, filepath.Base(snap.path))
	kind := protocol.CodeActionKindRefactorExtract
	edit := &protocol.TextDocumentEdit{TextDocument: protocol.OptionalVersionedTextDocumentIdentifier{
		TextDocumentIdentifier: protocol.TextDocumentIdentifier{URI: address},
	}}
	edit.Edits = append(edit.Edits, &protocol.TextEdit{NewText: text})
	return &protocol.CodeAction{
		Title: "make the variant `" + name + "` of this sheet", Kind: &kind,
		Edit: &protocol.WorkspaceEdit{DocumentChanges: []protocol.DocumentChange{&protocol.CreateFile{Kind: "create", URI: address}, edit}},
	}
}
