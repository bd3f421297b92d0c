package grammar

// The language, one production a line kind. A line of a sheet is one of the alternatives of [Line]; which ones may
// stand where is said in fold.go, and what the cells of a table may hold in tables.go. Upper-case names in angle
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

// ---- lists

// PoseEntry gives one channel's value in a pose.
type PoseEntry struct {
	At
	Channel ChannelPath `parser:"@@"`
	Value   Figure      `parser:"@@"`
}

// EaseEntry names an easing.
type EaseEntry struct {
	At
	Name  Name  `parser:"@@"`
	Curve Curve `parser:"@@"`
}

// LateEntry says how much later than written the base curve of some controls plays.
type LateEntry struct {
	At
	Controls PatternText `parser:"@@"`
	Late     Moment      `parser:"@@"`
}

// FollowBody is a line of a follow.
type FollowBody struct {
	Lag    *LagLine    `parser:"  @@"`
	Spring *SpringLine `parser:"| @@"`
	Gain   *GainLine   `parser:"| @@"`
}

// LagLine says how late a follower comes.
type LagLine struct {
	At
	Lag Moment `parser:"'lag' @@"`
}

// SpringLine makes a follower swing: by frequency and damping, or by arrival and overshoot.
type SpringLine struct {
	At
	Arrives   *Moment  `parser:"'spring' ( 'arrives' @@"`
	Overshoot *Share   `parser:"  'overshoot' @@"`
	Frequency *Measure `parser:"| @@"`
	Damping   *Figure  `parser:"  'damping' @@ )"`
}

// GainLine adds a share of a leader's channel to a follower's.
type GainLine struct {
	At
	Channel Name   `parser:"@@"`
	Gain    Figure `parser:"@@"`
	Leader  Name   `parser:"'of' @@"`
}

// LayerEntry is a line of a layer.
type LayerEntry struct {
	At
	Mode     string `parser:"  @( 'adds' | 'replaces' )"`
	Strength *Share `parser:"| 'strength' @@"`
}

// QuiverEntry is a line of a quiver.
type QuiverEntry struct {
	Band   *BandLine   `parser:"  @@"`
	Seed   *SeedLine   `parser:"| @@"`
	Amount *AmountLine `parser:"| @@"`
}

// BandLine gives the frequencies of a quiver.
type BandLine struct {
	At
	Band Stretch `parser:"'band' @@"`
}

// SeedLine chooses one quiver among all alike.
type SeedLine struct {
	At
	Seed Figure `parser:"'seed' @@"`
}

// AmountLine gives the amplitude of a quiver, or the depth of a breath, for some channels.
type AmountLine struct {
	At
	Channels PatternText `parser:"@@"`
	Amount   Figure      `parser:"@@"`
}

// BreathEntry is a line of a breath.
type BreathEntry struct {
	Count  *CountLine  `parser:"  @@"`
	Inhale *InhaleLine `parser:"| @@"`
	Pause  *PauseLine  `parser:"| @@"`
	Starts *StartsLine `parser:"| @@"`
	Amount *AmountLine `parser:"| @@"`
}

// CountLine gives the number of breaths.
type CountLine struct {
	At
	Count Figure `parser:"'count' @@"`
}

// InhaleLine gives the share of a breath that is the in-breath.
type InhaleLine struct {
	At
	Inhale Share `parser:"'inhale' @@"`
}

// PauseLine gives the share of a breath that is the stillness at its end.
type PauseLine struct {
	At
	Pause Share `parser:"'pause' @@"`
}

// StartsLine says when the first in-breath begins.
type StartsLine struct {
	At
	Starts Moment `parser:"'starts' @@"`
}

// PlantEntry keeps a goal where it is, in the world or on a joint.
type PlantEntry struct {
	At
	Goal Name   `parser:"@@"`
	When Window `parser:"@@"`
	On   *Name  `parser:"( 'on' @@ )?"`
}

// ---- change

// ChangeBody is a line of a variant's `change`.
type ChangeBody struct {
	Amplify *AmplifyLine `parser:"  @@"`
	Scale   *ScaleLine   `parser:"| @@"`
	Offset  *OffsetLine  `parser:"| @@"`
	Delay   *DelayLine   `parser:"| @@"`
	Mirror  *MirrorLine  `parser:"| @@"`
	Without *WithoutLine `parser:"| @@"`
	Reseed  *ReseedLine  `parser:"| @@"`
	Swap    *SwapLine    `parser:"| @@"`
	Reverse *ReverseLine `parser:"| @@"`
	Start   *StartLine   `parser:"| @@"`
}

// AmplifyLine makes a motion larger or smaller about its mean.
type AmplifyLine struct {
	At
	Of PatternText `parser:"'amplify' @@"`
	By Share       `parser:"@@"`
}

// ScaleLine makes values larger or smaller about rest.
type ScaleLine struct {
	At
	Of PatternText `parser:"'scale' @@"`
	By Share       `parser:"@@"`
}

// OffsetLine moves values by an amount.
type OffsetLine struct {
	At
	Of PatternText `parser:"'offset' @@"`
	By Figure      `parser:"@@"`
}

// DelayLine makes controls play later.
type DelayLine struct {
	At
	Of PatternText `parser:"'delay' @@"`
	By Moment      `parser:"@@"`
}

// MirrorLine swaps left and right, of everything or of some controls.
type MirrorLine struct {
	At
	Of *PatternText `parser:"'mirror' @@?"`
}

// WithoutLine leaves out inherited material: `quiver wrists`, `track head in glance`, `follow arm.* after spine`.
type WithoutLine struct {
	At
	Kind  string       `parser:"'without' @( 'quiver' | 'breath' | 'track' | 'follow' | 'layer' | 'plant' | 'notes' | 'blocking' | 'overlap' )"`
	Of    *PatternText `parser:"@@?"`
	Layer *Name        `parser:"( 'in' @@"`
	After *Name        `parser:"| 'after' @@ )?"`
}

// ReseedLine gives the inherited quivers another seed.
type ReseedLine struct {
	At
	Seed Figure `parser:"'reseed' @@"`
}

// SwapLine puts one pose where another stood in the blocking.
type SwapLine struct {
	At
	Old Name `parser:"'swap' @@"`
	New Name `parser:"@@"`
}

// ReverseLine runs time backward.
type ReverseLine struct {
	At
	Word string `parser:"@'reverse'"`
}

// StartLine turns the cycle so that a moment comes first.
type StartLine struct {
	At
	When Moment `parser:"'start' @@"`
}

// ---- family

// FamilyBody is a line of a family.
type FamilyBody struct {
	Members  *MembersLine  `parser:"  @@"`
	Each     *EachLine     `parser:"| @@"`
	Name     *PatternLine  `parser:"| @@"`
	Opening  *OpeningLine  `parser:"| @@"`
	Phases   *PhasesLine   `parser:"| @@"`
	Lengths  *LengthsLine  `parser:"| @@"`
	Distinct *DistinctLine `parser:"| @@"`
}

// MembersLine names the sheets of a family.
type MembersLine struct {
	At
	Files FileName `parser:"'members' @@"`
}

// EachLine names the clips that every person needs.
type EachLine struct {
	At
	Clips []Name `parser:"'each' @@+"`
}

// PatternLine says how members are named.
type PatternLine struct {
	At
	Pattern FileName `parser:"'name' @@"`
}

// OpeningLine asks for one opening pose.
type OpeningLine struct {
	At
	Word string `parser:"'opening' @'same'"`
}

// PhasesLine asks for phases that are spread out.
type PhasesLine struct {
	At
	Word string `parser:"'phases' @'spread'"`
}

// LengthsLine asks for one length.
type LengthsLine struct {
	At
	Word string `parser:"'lengths' @'same'"`
}

// DistinctLine says how different members must be.
type DistinctLine struct {
	At
	Share Share `parser:"'distinct' @@"`
}

// ---- tables

// TableRow is a row of a table, the row of its column names included. Rows are read by hand (rows.go); this production
// is their definition, explains a row that does not read, and is what a fuzz test holds the reader to.
type TableRow struct {
	At
	Cells []TableCell `parser:"@@+"`
}

// TableCell is one cell; which kind a column wants is said in tables.go.
type TableCell struct {
	At
	Empty   string   `parser:"  @Dot"`
	Number  *Decimal `parser:"| @Number"`
	Marked  *Key     `parser:"| @Marked"`
	Time    *Time    `parser:"| @Time"`
	Word    string   `parser:"| @Word"`
	Path    string   `parser:"| @Path"`
	Pattern string   `parser:"| @Pattern"`
	String  string   `parser:"| @String"`
	Percent *Decimal `parser:"| @Percent"`
	Measure string   `parser:"| @Quantity"`
	Range   string   `parser:"| @Range"`
	Axis    string   `parser:"| @Direction"`
	Easing  string   `parser:"| @Easing"`
	Limits  string   `parser:"| @Limits"`
	Unit    string   `parser:"| @Unit"`
}
