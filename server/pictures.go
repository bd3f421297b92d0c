package server

import (
	"encoding/base64"
	"encoding/json"

	"github.com/motet-sheet/motet/lint/draw"
	"github.com/motet-sheet/motet/lint/motion"
)

// Pictures in hovers are for clients that ask for them when they start: some editors show a gap in their place, or their
// thousands of letters.
//
//	"initializationOptions": {"hoverPictures": true}

// wishes are what a client asks for when it starts, beside what it can do.
type wishes struct {
	HoverPictures bool `json:"hoverPictures"`
}

// wishesOf reads initializationOptions. What is not understood there is for another server, and no error.
func wishesOf(raw []byte) (w wishes) {
	if err := json.Unmarshal(raw, &w); err != nil {
		return wishes{}
	}
	return w
}

// longestHover is how many bytes of Markdown a hover has at most: VS Code shows nothing of one with more than 100 000.
const longestHover = 99_000

// picture is what a card may show beside its words.
type picture struct {
	says string // for who cannot see it
	svg  func() []byte
}

// drawings are a card's pictures as images of CommonMark, their data in the address, in as far as there is room.
func (c *card) drawings() []string {
	var out []string
	room := longestHover - len(c.markdown())
	for _, p := range c.shows {
		svg := p.svg()
		if svg == nil {
			continue
		}
		image := "![" + escaped(p.says) + "](data:image/svg+xml;base64," + base64.StdEncoding.EncodeToString(svg) + ")"
		if len(image)+2 <= room {
			room -= len(image) + 2
			out = append(out, image)
		}
	}
	return out
}

// showChannel adds a channel's curve, with a moment of the sheet marked; one below 0 is none.
func (c *card) showChannel(m *motion.Motion, channel *motion.Channel, frames float64) {
	if m.Whole() && channel.Moves() {
		c.shows = append(c.shows, picture{
			"the curve of " + channel.Dial.Path + " over the cycle", func() []byte { return draw.CurveInset(m, channel, frames) },
		})
	}
}

// showCycle adds the figure moving through the sheet.
func (c *card) showCycle(m *motion.Motion) {
	if m.Whole() && 0 < len(m.Rig.Joints) {
		c.shows = append(c.shows, picture{
			"the figure moving through " + m.Sheet.Name, func() []byte { return draw.CycleInset(m, draw.Views(m.Sheet.View)[0]) },
		})
	}
}

// showPose adds the figure going into a pose and back.
func (c *card) showPose(m *motion.Motion, pose *motion.Pose) {
	if m.Whole() && 0 < len(m.Rig.Joints) {
		c.shows = append(c.shows, picture{
			"the figure going into the pose " + pose.Name, func() []byte { return draw.PoseInset(m, pose, draw.Views(m.Sheet.View)[0]) },
		})
	}
}
