package server

import (
	"fmt"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// What a hover says in a rig: about a joint, and about a dial that no sheet moves.

// bodyCard tells about a name in a rig's table, or of a plant: a joint, and the dials of the control of that name.
func bodyCard(m *motion.Motion, text string) (card, bool) {
	if m.Rig == nil {
		return card{}, false
	}
	joint := m.Rig.JointIndex(grammar.NameKey(text))
	if joint < 0 {
		return patternCard(m, text)
	}
	j := &m.Rig.Joints[joint]
	at := m.Rig.RestWorld()[joint].Position()
	c := card{title: text, tells: "joint, part " + j.Part}
	if 0 <= j.Parent {
		c.tells += ", on `" + m.Rig.Joints[j.Parent].Name + "`"
	}
	c.add(fmt.Sprintf("rests %s up, %s to its left, %s forward", measured(at[1], "cm"), measured(at[0], "cm"), measured(at[2], "cm")))
	var carries, moved []string
	for i := range m.Rig.Joints {
		if m.Rig.Joints[i].Parent == joint {
			carries = append(carries, "`"+m.Rig.Joints[i].Name+"`")
		}
	}
	for i := range m.Rig.Channels {
		for _, d := range m.Rig.Channels[i].Drives {
			if d.Joint == joint {
				moved = append(moved, "`"+m.Rig.Channels[i].Path+"`")
				break
			}
		}
	}
	c.add(listed("carries ", carries))
	c.add(listed("moved by ", moved))
	return c, true
}

func listed(what string, names []string) string {
	if len(names) == 0 {
		return ""
	}
	return what + strings.Join(shortened(names, "of them"), " ")
}

// dialCard tells about a channel where no motion is: what it counts, how far it goes, and what it moves.
func dialCard(rig *motion.Rig, d *motion.Dial) card {
	c := card{title: d.Path, tells: dialTells(d)}
	c.add(dialRange(d))
	for _, drive := range d.Drives {
		axes := ""
		for i, on := range drive.Axes {
			if on {
				axes += string("xyz"[i])
			}
		}
		gain := ", gain " + figure(drive.Gain, 4)
		switch {
		case drive.Kind == motion.DrivesSwivel:
			c.add("swivels the goal `" + drive.Goal + "`" + gain)
		case drive.Kind == motion.DrivesGoal:
			c.add("moves the goal `" + drive.Goal + "` along " + axes + gain)
		case 0 <= drive.Joint && drive.Joint < len(rig.Joints):
			does := map[motion.DriveKind]string{motion.DrivesMove: "moves `%s` along %s", motion.DrivesTurn: "turns `%s` about %s", motion.DrivesScale: "scales `%s` along %s"}[drive.Kind]
			c.add(fmt.Sprintf(does, rig.Joints[drive.Joint].Name, axes) + gain)
		}
	}
	c.add(dialBlends(rig, d))
	return c
}
