package grammar

// The productions of lists, of changes, of families and of table rows; those of opening lines and headers are in
// productions.go.

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
