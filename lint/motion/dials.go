package motion

import (
	"slices"
	"strings"

	"github.com/motet-sheet/motet/grammar"
)

func (b *rigBuilder) channel(row tableRow) {
	key := row.name("channel")
	control, name, _ := strings.Cut(key, "/")
	if name == "at" || name == "ease" {
		b.add(ruleRepeatedName, row.ref("channel"), "a channel cannot be named `%s`, since tracks have a column of that name; give it another", name)
		return
	}
	i, known := b.dials[key]
	if !known {
		i = len(b.Channels)
		b.dials[key] = i
		b.controls[control] = append(b.controls[control], i)
		b.Channels = append(b.Channels, newDial(row, key, control, name))
	}
	if morph, ok := b.morph(row); ok {
		b.Channels[i].Morphs = append(b.Channels[i].Morphs, morph)
		return
	}
	drive, ok := b.drive(row, control)
	if ok {
		b.Channels[i].Drives = append(b.Channels[i].Drives, drive)
	} else if known && row.text("drives") == "" {
		b.add(ruleRepeatedName, row.ref("channel"), "the channel `%s` is already there; a second row of it must drive another joint or morph target", key)
	}
}

func newDial(row tableRow, key, control, name string) Dial {
	d := Dial{Path: key, Control: control, Name: name, At: row.ref("channel")}
	d.Unit = strings.ToLower(row.text("unit"))
	drives := row.text("drives")
	if d.Unit == "" {
		d.Unit = unitOf(drives)
	}
	if d.Unit == "%" && strings.HasPrefix(drives, "scale") {
		d.Rest = 100
	}
	d.Rest = row.number("rest", d.Rest)
	d.Flips = row.text("mirror") == "flip"
	d.Positive = strings.Trim(row.text("positive"), `"`)
	if text := row.text("range"); text != "" {
		d.Range[0], d.Range[1], _, d.HasRange = grammar.ParseNumbers(text)
	}
	return d
}

// unitOf is the unit of what a channel drives, where the rig does not say.
func unitOf(drives string) string {
	switch {
	case strings.HasPrefix(drives, "turn"), drives == "goal.swivel":
		return "deg"
	case strings.HasPrefix(drives, "move"), strings.HasPrefix(drives, "goal"):
		return "cm"
	}
	return "%"
}

// drive reads what a row of the channels table moves; it is false where that is nothing.
func (b *rigBuilder) drive(row tableRow, control string) (Drive, bool) {
	text := row.text("drives")
	kind, axes, _ := strings.Cut(text, ".")
	if text == "" || kind == "" {
		return Drive{}, false
	}
	d := Drive{Gain: row.number("gain", 1), Joint: -1}
	for _, axis := range axes {
		if axis >= 'x' && axis <= 'z' && axes != "swivel" {
			d.Axes[axis-'x'] = true
		}
	}
	switch kind {
	case "goal":
		return b.goalDrive(d, row, control, axes)
	case "move":
		d.Kind = DrivesMove
	case "turn":
		d.Kind = DrivesTurn
	case "scale":
		d.Kind = DrivesScale
	}
	return b.jointDrive(d, row, control)
}

func (b *rigBuilder) goalDrive(d Drive, row tableRow, control, axes string) (Drive, bool) {
	d.Kind, d.Goal = DrivesGoal, control
	if axes == "swivel" {
		d.Kind = DrivesSwivel
	}
	for i := range b.Chains {
		if b.Chains[i].Goal == control {
			return d, true
		}
	}
	if b.goals[control] || slices.Contains(b.unread(grammar.ChainsBlock), control) {
		return d, false
	}
	b.add(ruleUnknownName, row.ref("channel"), "`%s` drives a goal, but no row of `chains` has the goal `%s`; add one", row.name("channel"), control)
	return d, false
}

func (b *rigBuilder) jointDrive(d Drive, row tableRow, control string) (Drive, bool) {
	name, at := row.name("joint"), row.ref("joint")
	if name == "" {
		name, at = control, row.ref("channel")
	}
	index, ok := b.joints[name]
	if !ok && b.unreadJoint(name) {
		return d, false
	}
	if !ok {
		b.unknown(at, name, b.jointNames(), "there is no joint `%s`; name the joint that the channel drives, or write . under `drives`", name)
		return d, false
	}
	d.Joint = index
	return d, true
}
