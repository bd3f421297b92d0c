package grammar

// The language, one production a line kind. A line of a sheet is one of the alternatives of [Line]; which ones may
// stand where is said in kinds.go, and what the cells of a table may hold in tables.go; lists, changes, families and rows
// are in productions_lists.go. Upper-case names in angle
// brackets (`@Word`) are the atom classes of atoms.go.
//
// participle reads the struct tags as EBNF: 'rig' is that very word, @@ the production of the field's type, ( )? an
// optional part, | an alternative, + one or more.

// Production is any line kind, as an alternative of the grammar's root. Only its printed form and the parsers of its
// parts are used: a line is parsed by the one production that its block and its first word call for.
type Production struct {
	Opener *Opener `parser:"  @@"`
	Body   *Body   `parser:"| @@"`
}

// Opener opens a block; it stands in column 1.
type Opener struct {
	Sheet    *SheetLine    `parser:"  @@"`
	Rig      *RigLine      `parser:"| @@"`
	Pose     *PoseLine     `parser:"| @@"`
	Blocking *BlockingLine `parser:"| @@"`
	Track    *TrackLine    `parser:"| @@"`
	Amend    *AmendLine    `parser:"| @@"`
	Follow   *FollowLine   `parser:"| @@"`
	Layer    *LayerLine    `parser:"| @@"`
	Quiver   *QuiverLine   `parser:"| @@"`
	Breath   *BreathLine   `parser:"| @@"`
	Family   *FamilyLine   `parser:"| @@"`
	Plain    *PlainLine    `parser:"| @@"`
}

// Body is a line of a block's body.
type Body struct {
	Sheet  *SheetEntry  `parser:"  @@"`
	Rig    *RigEntry    `parser:"| @@"`
	Pose   *PoseEntry   `parser:"| @@"`
	Ease   *EaseEntry   `parser:"| @@"`
	Lag    *LateEntry   `parser:"| @@"`
	Follow *FollowBody  `parser:"| @@"`
	Layer  *LayerEntry  `parser:"| @@"`
	Quiver *QuiverEntry `parser:"| @@"`
	Breath *BreathEntry `parser:"| @@"`
	Plant  *PlantEntry  `parser:"| @@"`
	Change *ChangeBody  `parser:"| @@"`
	Family *FamilyBody  `parser:"| @@"`
	Row    *TableRow    `parser:"| @@"`
}

// ---- what opens a block

// SheetLine opens the one sheet of a file.
type SheetLine struct {
	At
	Name Name `parser:"'sheet' @@"`
}

// RigLine opens the one rig of a file.
type RigLine struct {
	At
	Name Name `parser:"'rig' @@"`
}

// PoseLine opens a pose: written out, the mirror of another, or made from another.
type PoseLine struct {
	At
	Name    Name  `parser:"'pose' @@"`
	Mirrors *Name `parser:"( 'mirrors' @@"`
	From    *Name `parser:"| 'from' @@ )?"`
}

// BlockingLine opens the pose-to-pose keys of the whole body.
type BlockingLine struct {
	At
	Every *Moment `parser:"'blocking' ( 'every' @@ )?"`
}

// TrackLine opens the keys of one control.
type TrackLine struct {
	At
	Control Name    `parser:"'track' @@"`
	Layer   *Name   `parser:"( 'in' @@ )?"`
	Every   *Moment `parser:"( 'every' @@ )?"`
}

// AmendLine opens cells that replace or add to those of an inherited track.
type AmendLine struct {
	At
	Control Name  `parser:"'amend' @@"`
	Layer   *Name `parser:"( 'in' @@ )?"`
}

// FollowLine opens the follow-through of some controls behind a leader.
type FollowLine struct {
	At
	Followers PatternText `parser:"'follow' @@"`
	Leader    Name        `parser:"'after' @@"`
}

// LayerLine opens what is said about a layer.
type LayerLine struct {
	At
	Name Name `parser:"'layer' @@"`
}

// QuiverLine opens micro-movement.
type QuiverLine struct {
	At
	Name  Name    `parser:"'quiver' @@"`
	Layer *Name   `parser:"( 'in' @@ )?"`
	Every *Moment `parser:"( 'every' @@ )?"`
}

// BreathLine opens a breath.
type BreathLine struct {
	At
	Name  Name    `parser:"'breath' @@"`
	Layer *Name   `parser:"( 'in' @@ )?"`
	Every *Moment `parser:"( 'every' @@ )?"`
}

// FamilyLine opens what a cast of sheets has in common.
type FamilyLine struct {
	At
	Name Name `parser:"'family' @@"`
}

// PlainLine opens a block that has no name of its own.
type PlainLine struct {
	At
	Word string `parser:"@( 'joints' | 'channels' | 'chains' | 'pairs' | 'eases' | 'overlap' | 'plant' | 'change' | 'notes' | 'house' )"`
}

// ---- the body of a sheet

// SheetEntry is a header line of a sheet.
type SheetEntry struct {
	Rig     *RigEntryLine `parser:"  @@"`
	From    *FromLine     `parser:"| @@"`
	Rate    *RateLine     `parser:"| @@"`
	Tempo   *TempoLine    `parser:"| @@"`
	Beat    *BeatLine     `parser:"| @@"`
	Cycle   *CycleLine    `parser:"| @@"`
	Span    *SpanLine     `parser:"| @@"`
	Leaves  *LeavesLine   `parser:"| @@"`
	Rejoins *RejoinsLine  `parser:"| @@"`
	Phase   *PhaseLine    `parser:"| @@"`
	Advance *AdvanceLine  `parser:"| @@"`
	Grid    *GridLine     `parser:"| @@"`
	View    *ViewLine     `parser:"| @@"`
}

// RigEntryLine names the controls that a sheet moves.
type RigEntryLine struct {
	At
	Name Name      `parser:"'rig' @@"`
	File *FileName `parser:"( 'in' @@ )?"`
}

// FromLine names the sheet that this one is a variant of.
type FromLine struct {
	At
	Name Name      `parser:"'from' @@"`
	File *FileName `parser:"( 'in' @@ )?"`
}

// RateLine gives the frames a second.
type RateLine struct {
	At
	Rate Measure `parser:"'rate' @@"`
}

// TempoLine gives the beats a minute.
type TempoLine struct {
	At
	Tempo Measure `parser:"'tempo' @@"`
}

// BeatLine gives the length of a beat.
type BeatLine struct {
	At
	Beat Moment `parser:"'beat' @@"`
}

// CycleLine gives the length of a motion whose end is its start.
type CycleLine struct {
	At
	Length Moment `parser:"'cycle' @@"`
}

// SpanLine gives the length of a motion that plays once.
type SpanLine struct {
	At
	Length Moment `parser:"'span' @@"`
}

// LeavesLine says from which moment of which idle a span departs.
type LeavesLine struct {
	At
	Idle Name      `parser:"'leaves' @@"`
	File *FileName `parser:"( 'in' @@ )?"`
	When Moment    `parser:"'at' @@"`
}

// RejoinsLine says at which moment of which idle a span ends.
type RejoinsLine struct {
	At
	Idle Name      `parser:"'rejoins' @@"`
	File *FileName `parser:"( 'in' @@ )?"`
	When Moment    `parser:"'at' @@"`
}

// PhaseLine says where a player of several members begins.
type PhaseLine struct {
	At
	Phase Moment `parser:"'phase' @@"`
}

// AdvanceLine says how much a channel gains in each cycle.
type AdvanceLine struct {
	At
	Channel ChannelPath `parser:"'advance' @@"`
	Gain    Figure      `parser:"@@"`
}

// GridLine gives the grid on which accents belong.
type GridLine struct {
	At
	Grid Moment `parser:"'grid' @@"`
}

// ViewLine says from where the motion will be seen.
type ViewLine struct {
	At
	View string `parser:"'view' @( 'front' | 'side' | 'three-quarter' | 'round' )"`
}

// ---- the body of a rig

// RigEntry is a header line of a rig.
type RigEntry struct {
	Height   *HeightLine   `parser:"  @@"`
	Breathes *BreathesLine `parser:"| @@"`
	Model    *ModelLine    `parser:"| @@"`
}

// HeightLine gives the figure's height in centimetres.
type HeightLine struct {
	At
	Height Measure `parser:"'height' @@"`
}

// BreathesLine gives the figure's breaths a minute at rest.
type BreathesLine struct {
	At
	Rate Stretch `parser:"'breathes' @@"`
}

// ModelLine names the character that the rig was read from.
type ModelLine struct {
	At
	File FileName `parser:"'model' @@"`
}
