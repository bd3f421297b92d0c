package draw

import (
	"fmt"
	"image/color"
	"strings"
)

// Ink is what a mark is for; a scheme says which colour that is on its paper.
type Ink uint8

// The inks.
const (
	Paper  Ink = iota // what everything is drawn on
	Panel             // a part of the paper that is set apart: the next round, the ground
	Rule              // lines that guide the eye
	Soft              // words that come second
	Strong            // words and lines that come first
	Center            // of what has no side
	Left              // of their left
	Right             // of their right
	Fault             // where something is wrong
	Other             // of another sheet that is laid over
	Trace             // of a path through the air
	Skin              // the body's trunk and head
	inkKinds
)

// Scheme is a colour for each ink.
type Scheme [inkKinds]color.NRGBA

// The colours are those of M. Okabe and K. Ito, Color Universal Design (2008), from memory, which people with any kind
// of colour vision can tell apart; on each paper, those that stand out by at least 3 to 1 (WCAG 2.2, 1.4.11), and
// greys of at least 4.5 to 1 for words (1.4.3). Sides and sheets are told apart by shape and by words too.
func okabeIto() (orange, sky, green, blue, vermilion, purple color.NRGBA) {
	return rgb(0xE69F00), rgb(0x56B4E9), rgb(0x009E73), rgb(0x0072B2), rgb(0xD55E00), rgb(0xCC79A7)
}

// Light is the scheme for white paper.
func Light() Scheme {
	_, _, green, blue, vermilion, purple := okabeIto()
	return Scheme{
		Paper: rgb(0xFFFFFF), Panel: rgb(0xEEF1F3), Rule: rgb(0xCBD2D7), Soft: rgb(0x56616A), Strong: rgb(0x14191D),
		Center: green, Left: blue, Right: purple, Fault: vermilion, Other: rgb(0x56616A), Trace: vermilion, Skin: rgb(0x6E7A83),
	}
}

// Dark is the scheme for dark rooms.
func Dark() Scheme {
	orange, sky, green, _, vermilion, purple := okabeIto()
	return Scheme{
		Paper: rgb(0x14191D), Panel: rgb(0x222A30), Rule: rgb(0x3A444C), Soft: rgb(0xA7B2BA), Strong: rgb(0xF1F4F6),
		Center: green, Left: sky, Right: purple, Fault: vermilion, Other: rgb(0xA7B2BA), Trace: orange, Skin: rgb(0x8E9AA3),
	}
}

// stencil is the scheme that text for a terminal is made with: what is there and what is not.
func stencil() Scheme {
	var s Scheme
	for ink := range s {
		s[ink] = rgb(0xFFFFFF)
	}
	s[Paper], s[Panel], s[Rule] = rgb(0), rgb(0), rgb(0)
	return s
}

func rgb(hex uint32) color.NRGBA {
	return color.NRGBA{uint8(hex >> 16), uint8(hex >> 8), uint8(hex), 0xFF}
}

func splitWords(text string) []string { return strings.Fields(text) }

func hex(c color.NRGBA) string { return fmt.Sprintf("#%02X%02X%02X", c.R, c.G, c.B) }

// Name is what the ink is called in style sheets.
func (i Ink) Name() string { return inkNames()[i] }

func inkNames() [inkKinds]string {
	return [inkKinds]string{
		Paper: "paper", Panel: "panel", Rule: "rule", Soft: "soft", Strong: "strong", Center: "center", Left: "left",
		Right: "right", Fault: "fault", Other: "other", Trace: "trace", Skin: "skin",
	}
}

// CSS writes the scheme as custom properties of a style sheet, such as --paper:#FFFFFF;.
func (s Scheme) CSS() string {
	var out strings.Builder
	for ink, name := range inkNames() {
		out.WriteString("--" + name + ":" + hex(s[ink]) + ";")
	}
	return out.String()
}
