package server

import (
	"strings"

	"github.com/motet-sheet/motet/grammar"
)

// nameKind says what a name names.
type nameKind uint8

// The kinds of names. A control, the joint that it moves and the goal of a chain share their name, since a channel that
// names no joint moves the one of its control's name; so they are one kind here, and are renamed together.
const (
	bodyName nameKind = iota
	channelName
	poseName
	layerName
	easeName
	quiverName
	breathName
	sheetName
	rigName
	familyName
	morphName // of the character's file, by the word that the rig has for it
)

func (k nameKind) String() string {
	return [...]string{"control", "channel", "pose", "layer", "easing", "quiver", "breath", "sheet", "rig", "family", "morph target"}[k]
}

// mention is one place of a text where a name stands.
type mention struct {
	kind nameKind
	// key is the name as names are compared; of a channel its whole path, and of a mention that covers several names the
	// pattern.
	key string
	at  grammar.Ref // the name alone: of a channel the part behind the stroke, where one stands
	// declares says that the name comes into being here; elsewhere it is used.
	declares bool
	// covers says that key is a pattern with a `*` in it, or a channel of such controls.
	covers bool
	file   *grammar.FileName // that the line names for the sheet or rig; nil for none
}

// means tells whether the mention is about a name of its kind.
func (n *mention) means(key string) bool {
	if n.covers {
		return grammar.MatchPattern(n.key, key)
	}
	return n.key == key
}

// namer walks a tree and tells of each mention.
type namer struct {
	tell func(mention)
	b    *grammar.Block
	line int
}

// mentions are all places of a tree where names stand, in the order of the text. Rows of keys name nothing but easings,
// so the work is in proportion to the other lines.
func mentions(f *grammar.File) []mention {
	var out []mention
	for _, b := range f.Blocks {
		out = blockMentions(out, b)
	}
	return out
}

func blockMentions(out []mention, b *grammar.Block) []mention {
	n := namer{tell: func(m mention) { out = append(out, m) }, b: b, line: b.Open}
	if b.Opener != nil {
		n.opener(b.Opener)
	}
	for i, stmt := range b.Entries() {
		n.line = i
		n.entry(stmt)
	}
	if b.Header >= 0 && !b.Muted {
		n.table()
	}
	return out
}

func (n *namer) name(kind nameKind, name *grammar.Name, declares bool) {
	if name != nil {
		n.tell(mention{kind: kind, key: name.Key(), at: n.b.Ref(n.line, name.Where()), declares: declares})
	}
}

func (n *namer) linked(kind nameKind, name *grammar.Name, file *grammar.FileName) {
	n.tell(mention{kind: kind, key: name.Key(), at: n.b.Ref(n.line, name.Where()), file: file})
}

// path tells of a control and its channel; either may be a pattern.
func (n *namer) path(text string, span grammar.Span, declares bool) {
	control, channel, isPath := strings.Cut(text, "/")
	body := grammar.Span{Start: span.Start, End: span.Start + len(control)}
	if control != "*" {
		n.tell(mention{
			kind: bodyName, key: grammar.NameKey(control), at: n.b.Ref(n.line, body),
			declares: declares, covers: strings.Contains(control, "*"),
		})
	}
	if isPath && channel != "*" {
		n.tell(mention{
			kind: channelName, key: grammar.NameKey(text), declares: declares, covers: strings.Contains(text, "*"),
			at: n.b.Ref(n.line, grammar.Span{Start: span.End - len(channel), End: span.End}),
		})
	}
}

func (n *namer) pattern(p *grammar.PatternText) {
	if p != nil {
		n.path(p.Text, p.Where(), false)
	}
}

func (n *namer) opener(stmt grammar.Statement) {
	switch o := stmt.(type) {
	case *grammar.SheetLine:
		n.name(sheetName, &o.Name, true)
	case *grammar.RigLine:
		n.name(rigName, &o.Name, true)
	case *grammar.PoseLine:
		n.name(poseName, &o.Name, true)
		n.name(poseName, o.Mirrors, false)
		n.name(poseName, o.From, false)
	case *grammar.TrackLine:
		n.name(bodyName, &o.Control, false)
		n.name(layerName, o.Layer, false)
	case *grammar.AmendLine:
		n.name(bodyName, &o.Control, false)
		n.name(layerName, o.Layer, false)
	case *grammar.FollowLine:
		n.pattern(&o.Followers)
		n.name(bodyName, &o.Leader, false)
	case *grammar.LayerLine:
		n.name(layerName, &o.Name, true)
	case *grammar.QuiverLine:
		n.name(quiverName, &o.Name, true)
		n.name(layerName, o.Layer, false)
	case *grammar.BreathLine:
		n.name(breathName, &o.Name, true)
		n.name(layerName, o.Layer, false)
	case *grammar.FamilyLine:
		n.name(familyName, &o.Name, true)
	}
}

func (n *namer) entry(stmt grammar.Statement) {
	switch e := stmt.(type) {
	case *grammar.RigEntryLine:
		n.linked(rigName, &e.Name, e.File)
	case *grammar.FromLine:
		n.linked(sheetName, &e.Name, e.File)
	case *grammar.LeavesLine:
		n.linked(sheetName, &e.Idle, e.File)
	case *grammar.RejoinsLine:
		n.linked(sheetName, &e.Idle, e.File)
	case *grammar.AdvanceLine:
		n.path(e.Channel.Text, e.Channel.Where(), false)
	case *grammar.PoseEntry:
		n.path(e.Channel.Text, e.Channel.Where(), false)
	case *grammar.EaseEntry:
		n.name(easeName, &e.Name, true)
	case *grammar.LateEntry:
		n.pattern(&e.Controls)
	case *grammar.GainLine:
		n.gain(e)
	case *grammar.AmountLine:
		n.pattern(&e.Channels)
	case *grammar.PlantEntry:
		n.name(bodyName, &e.Goal, false)
		n.name(bodyName, e.On, false)
	case *grammar.AmplifyLine:
		n.pattern(&e.Of)
	case *grammar.ScaleLine:
		n.pattern(&e.Of)
	case *grammar.OffsetLine:
		n.pattern(&e.Of)
	case *grammar.DelayLine:
		n.pattern(&e.Of)
	case *grammar.MirrorLine:
		n.pattern(e.Of)
	case *grammar.WithoutLine:
		n.without(e)
	case *grammar.SwapLine:
		n.name(poseName, &e.Old, false)
		n.name(poseName, &e.New, false)
	}
}

// gain is a line of a follow: a channel of its followers, and one of its leader.
func (n *namer) gain(e *grammar.GainLine) {
	follow, ok := n.b.Opener.(*grammar.FollowLine)
	if !ok {
		return
	}
	control, _, _ := strings.Cut(grammar.NameKey(follow.Followers.Text), "/")
	n.tell(mention{
		kind: channelName, key: control + "/" + e.Channel.Key(), at: n.b.Ref(n.line, e.Channel.Where()),
		covers: strings.Contains(control, "*"),
	})
	n.tell(mention{
		kind: channelName, key: follow.Leader.Key() + "/" + e.Leader.Key(), at: n.b.Ref(n.line, e.Leader.Where()),
	})
}

func (n *namer) without(e *grammar.WithoutLine) {
	if e.Of == nil {
		return
	}
	kind, named := map[string]nameKind{"quiver": quiverName, "breath": breathName, "layer": layerName}[e.Kind]
	if named {
		n.tell(mention{
			kind: kind, key: grammar.NameKey(e.Of.Text), at: n.b.Ref(n.line, e.Of.Where()),
			covers: strings.Contains(e.Of.Text, "*"),
		})
	} else {
		n.pattern(e.Of)
	}
	n.name(layerName, e.Layer, false)
	n.name(bodyName, e.After, false)
}

// table tells of the names in a table: its columns where they are channels, and its cells.
func (n *namer) table() {
	b := n.b
	if control, _, ok := trackOf(b); ok {
		n.line = b.Header
		for i := range b.Columns {
			if c := &b.Columns[i]; c.Kind == grammar.ValueColumn {
				n.tell(mention{kind: channelName, key: control + "/" + grammar.NameKey(c.Name), at: b.Ref(b.Header, c.Span)})
			}
		}
	}
	var naming []int // the columns whose cells are names
	for i := range b.Columns {
		switch b.Columns[i].Kind {
		case grammar.NameColumn, grammar.PathColumn, grammar.EaseColumn, grammar.DrivesColumn:
			naming = append(naming, i)
		}
	}
	if len(naming) == 0 || b.Kind == grammar.HouseBlock {
		return
	}
	for line := range b.Rows() {
		n.line = line
		for _, i := range naming {
			if i < len(b.Lines[line].Cells) {
				n.cell(i)
			}
		}
	}
}

func (n *namer) cell(i int) {
	l, column := &n.b.Lines[n.line], &n.b.Columns[i]
	cell := &l.Cells[i]
	switch {
	case cell.Class == grammar.Dot:
		return
	case column.Kind == grammar.PathColumn:
		n.path(l.CellText(i), cell.Span, n.b.Kind == grammar.ChannelsBlock)
		return
	case column.Kind == grammar.EaseColumn && cell.Class != grammar.Word:
		return
	case column.Kind == grammar.DrivesColumn:
		if word, ok := grammar.MorphOf(l.CellText(i)); ok {
			span := grammar.Span{Start: cell.Span.Start + len(grammar.MorphPrefix), End: cell.Span.End}
			n.tell(mention{kind: morphName, key: word, at: n.b.Ref(n.line, span)})
		}
		return
	}
	m := mention{kind: bodyName, key: grammar.NameKey(l.CellText(i)), at: n.b.Ref(n.line, cell.Span)}
	switch {
	case column.Kind == grammar.EaseColumn:
		m.kind = easeName
	case n.b.Kind == grammar.BlockingBlock:
		m.kind = poseName
	case n.b.Kind == grammar.JointsBlock && column.Name == "joint":
		m.declares = true
	}
	n.tell(m)
}

// mentionAt is the mention at a byte of a text, the narrowest where one stands in another; false where no name stands.
func mentionAt(f *grammar.File, offset int) (mention, bool) {
	at := refAt(f, offset)
	if at.IsZero() {
		return mention{}, false
	}
	var found mention
	var ok bool
	for _, m := range blockMentions(nil, at.Block) {
		if m.at.Line == at.Line && m.at.Span.Contains(at.Span.Start) && (!ok || m.at.Span.Len() <= found.at.Span.Len()) {
			found, ok = m, true
		}
	}
	return found, ok
}
