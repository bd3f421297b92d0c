package main

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/motet-sheet/motet/cmd/motet/exchange"
	"github.com/motet-sheet/motet/cmd/motet/report"
)

// isClip tells whether a file is glTF: by the end of its name, or by its first bytes.
func isClip(path string) bool {
	switch strings.ToLower(filepath.Ext(path)) {
	case ".glb", ".gltf":
		return true
	case sheetSuffix:
		return false
	}
	f, err := os.Open(path)
	if err != nil {
		return false
	}
	defer func() { _ = f.Close() }()
	var magic [4]byte
	n, _ := f.Read(magic[:])
	return string(magic[:n]) == "glTF"
}

// compareClips compares a clip with a sheet or with another clip, and says by its exit code whether it is that motion.
func (f *compareFlags) compareClips(c *console) int {
	same, err := f.compareClip(c)
	switch {
	case err != nil:
		c.complain("%s", err)
		return exitFailed
	case !same:
		return exitFound
	}
	return exitClean
}

func (f *compareFlags) compareClip(c *console) (same bool, err error) {
	limits := exchange.DefaultLikeness()
	if f.Within != "" {
		if limits, err = exchange.ParseLikeness(f.Within); err != nil {
			return false, fmt.Errorf("--within: %w", err)
		}
	}
	old, now := f.Files[0], f.Files[1]
	if !isClip(now) {
		old, now = now, old // the sheet is what the clip should be
	}
	found, err := f.likeness(old, now)
	if err != nil {
		return false, err
	}
	view := likenessView{old, now, found, limits}
	if f.JSON {
		text, err := json.MarshalIndent(view.json(), "", " ")
		if err != nil {
			panic(err) // Numbers, strings and lists of them always encode.
		}
		c.print(string(text) + "\n")
	} else {
		c.print(view.text())
	}
	return found.Within(limits), nil
}

func (f *compareFlags) likeness(old, now string) (*exchange.Likeness, error) {
	document, err := exchange.Read(now, readClip)
	if err != nil {
		return nil, err
	}
	if isClip(old) {
		before := document
		if old != now {
			if before, err = exchange.Read(old, readClip); err != nil {
				return nil, err
			}
		}
		oldClip := f.OldClip
		if oldClip == "" && len(before.Clips) > 1 {
			oldClip = f.Clip
		}
		return exchange.LikenessOfClips(before, oldClip, document, f.Clip)
	}
	if f.OldClip != "" {
		return nil, fmt.Errorf("--old-clip: %s is a sheet; it has one motion", old)
	}
	m, all, p, err := resolveSheet(old)
	if err != nil {
		return nil, fmt.Errorf("%s: %s", old, plainIO(err))
	}
	if m.Sheet == nil {
		return nil, fmt.Errorf("%s: it has %s", old, motionless(m, old, "compare"))
	}
	if err := sound(m, all.naming(p)); err != nil {
		return nil, err
	}
	return exchange.LikenessToSheet(m, document, f.Clip)
}

// clipFlagsAlone tells that a flag was given that only clips have a use for.
func (f *compareFlags) clipFlagsAlone() error {
	if f.Clip != "" || f.OldClip != "" || f.Within != "" {
		return errors.New("--clip, --old-clip and --within are for clips, and neither file is a .glb or .gltf")
	}
	return nil
}

// A likenessView shows how a clip compares to what it should be.
type likenessView struct {
	old, now string
	found    *exchange.Likeness
	limits   exchange.LikenessLimits
}

// mostJointRows is how many joints are listed for people.
const mostJointRows = 8

func (v *likenessView) text() string {
	var out strings.Builder
	l := v.found
	fmt.Fprintf(&out, "--- %s\n+++ %s\n", v.side(v.old, l.OldClip), v.side(v.now, l.Clip))
	for _, line := range v.remarks() {
		out.WriteString(line + "\n")
	}
	out.WriteString(v.verdict() + "\n" + v.beginning())
	joints := slices.Clone(l.Joints)
	slices.SortStableFunc(joints, func(a, b exchange.JointLikeness) int { return cmp.Compare(b.Share(v.limits), a.Share(v.limits)) })
	rows := [][]string{{"joint", "place", "at", "mean", "turn", "at", "mean"}}
	for _, j := range joints[:min(len(joints), mostJointRows)] {
		rows = append(rows, slices.Concat([]string{j.Joint}, v.cells(j.Place, " cm"), v.cells(j.Turn, "°")))
	}
	out.WriteString(columns(rows))
	if more := len(joints) - mostJointRows; more > 0 {
		fmt.Fprintf(&out, "and %s, each less far off; --json lists all\n", report.Count(more, "joint"))
	}
	out.WriteString(v.weights())
	return out.String()
}

// weights lists the morph targets that are farthest off.
func (v *likenessView) weights() string {
	weights := slices.Clone(v.found.Weights)
	if len(weights) == 0 {
		return ""
	}
	slices.SortStableFunc(weights, func(a, b exchange.WeightLikeness) int { return cmp.Compare(b.Weight.Largest, a.Weight.Largest) })
	rows := [][]string{{"morph target", "weight", "at", "mean"}}
	for _, w := range weights[:min(len(weights), mostJointRows)] {
		rows = append(rows, slices.Concat([]string{w.Target}, v.cells(w.Weight, " %")))
	}
	out := columns(rows)
	if more := len(weights) - mostJointRows; more > 0 {
		out += fmt.Sprintf("and %s, each less far off; --json lists all\n", report.Count(more, "morph target"))
	}
	return out
}

func (v *likenessView) side(path, clip string) string {
	if clip == "" {
		return path
	}
	return fmt.Sprintf("%s, clip %q", path, clip)
}

func (v *likenessView) cells(d exchange.Departure, unit string) []string {
	if d.Largest < leastShown {
		return []string{"0", "", ""}
	}
	return []string{small(d.Largest) + unit, v.moment(d.At), small(d.Mean) + unit}
}

// leastShown is the least difference that is shown as one.
const leastShown = 5e-5

// small writes a difference with as many digits as say something.
func small(x float64) string { return shortNumber(roundedTo(x, 1e-4)) }

func roundedTo(x, step float64) float64 {
	return float64(int64(x/step+0.5)) / (1 / step)
}

func (v *likenessView) moment(seconds float64) string {
	return fmt.Sprintf("frame %s (%s s)", shortNumber(roundedTo(seconds/v.found.Frame, 0.01)), shortNumber(roundedTo(seconds, 0.001)))
}

// remarks are what should be known besides the motion.
func (v *likenessView) remarks() (lines []string) {
	l := v.found
	if l.MadeFrom != "" && l.MadeFrom != l.Sheet {
		lines = append(lines, fmt.Sprintf("the clip was made from the sheet %s, and this is %s", l.MadeFrom, l.Sheet))
	} else {
		lines = append(lines, v.versions()...)
	}
	if l.Size != 1 {
		lines = append(lines, fmt.Sprintf("everything is %s times as large in the clip's file; compared without that", shortNumber(l.Size)))
	}
	if l.Axes != "" {
		lines = append(lines, fmt.Sprintf("x, y and z of the clip's file are %s of the motion; compared without that", l.Axes))
	}
	if b := l.Between; l.Within(v.limits) && (b.Turn.Largest > v.limits.TurnDeg || b.Place.Largest > v.limits.PlaceCM) {
		lines = append(lines, fmt.Sprintf("held to the motion at its frames, %g a second; in the straight lines between them it is off by up to %s", l.Rate.PerSecond(), v.both(b.Place.Largest, b.PlaceJoint, b.Turn.Largest, b.TurnJoint)))
	}
	if n := len(l.Respelled); n > 0 {
		lines = append(lines, fmt.Sprintf("%s found by letters and digits alone, such as %s as %s", report.Count(n, "joint"), l.Respelled[0][0], l.Respelled[0][1]))
	}
	if n := len(l.Missing) - len(l.Lost); n > 0 {
		var still []string
		for _, name := range l.Missing {
			if !slices.Contains(l.Lost, name) {
				still = append(still, name)
			}
		}
		lines = append(lines, fmt.Sprintf("the file has no node for %s, which %s only carried", someNames(still), map[bool]string{true: "is", false: "are"}[n == 1]))
	}
	if n := len(l.MissingTargets) - len(l.LostTargets); n > 0 {
		lines = append(lines, fmt.Sprintf("the file has no mesh with %s, %s not move", report.Count(n, "morph target"), map[bool]string{true: "which does", false: "which do"}[n == 1]))
	}
	return lines
}

// versions tells which files of the sheet are not as they were when the clip was made.
func (v *likenessView) versions() (lines []string) {
	var changed, gone []string
	for i := range v.found.Versions {
		switch s := &v.found.Versions[i]; {
		case s.Same():
		case s.Now == "":
			gone = append(gone, s.File)
		default:
			changed = append(changed, s.File)
		}
	}
	if len(changed) > 0 {
		lines = append(lines, "the clip was made from another version of "+strings.Join(changed, ", "))
	}
	if len(gone) > 0 {
		lines = append(lines, "the clip was also made from "+strings.Join(gone, ", ")+", which the sheet does not rest on now")
	}
	return lines
}

// verdict says whether the clip is the motion, and what speaks against it.
func (v *likenessView) verdict() string {
	l := v.found
	var against []string
	if len(l.Lost) > 0 {
		against = append(against, fmt.Sprintf("the file has no node for %s, which %s", someNames(l.Lost), map[bool]string{true: "moves", false: "move"}[len(l.Lost) == 1]))
	}
	if len(l.LostTargets) > 0 {
		against = append(against, fmt.Sprintf("no mesh of the file has the morph target %s, which %s", someNames(l.LostTargets), map[bool]string{true: "moves", false: "move"}[len(l.LostTargets) == 1]))
	}
	if !l.Lasts(v.limits) {
		against = append(against, fmt.Sprintf("it lasts %s s and not %s s", small(l.ClipSeconds), small(l.Seconds)))
	}
	off := map[string]bool{}
	for i := range l.Joints {
		off[l.Joints[i].Joint] = l.Joints[i].Share(v.limits) > 1
	}
	var first []string // those whose carrier is where it should be
	count := 0
	for i := range l.Joints {
		if j := &l.Joints[i]; off[j.Joint] {
			count++
			if !off[j.Carrier] {
				first = append(first, j.Joint)
			}
		}
	}
	if count > 0 {
		said := fmt.Sprintf("%s of %d off by more than %s", report.Count(count, "joint"), len(l.Joints), v.allowed())
		if count > len(first) {
			said += ", beginning at " + someNames(first)
		}
		against = append(against, said)
	}
	var blended []string
	for i := range l.Weights {
		if w := &l.Weights[i]; w.Weight.Largest > v.limits.WeightPercent {
			blended = append(blended, w.Target)
		}
	}
	if len(blended) > 0 {
		against = append(against, fmt.Sprintf("%s of %d off by more than %s %%, %s", report.Count(len(blended), "morph target"), len(l.Weights), shortNumber(v.limits.WeightPercent), someNames(blended)))
	}
	if s := l.Seam; s != nil && (s.PlaceCM > v.limits.PlaceCM || s.TurnDeg > v.limits.TurnDeg || s.WeightPercent > v.limits.WeightPercent) {
		against = append(against, "the seam gapes by "+v.seam())
	}
	if len(against) > 0 {
		return "not its motion: " + strings.Join(against, "; ")
	}
	said := "still its motion: every joint within " + v.allowed()
	if len(l.Weights) > 0 {
		said += ", every weight within " + shortNumber(v.limits.WeightPercent) + " %"
	}
	if l.Seam != nil {
		said += "; the seam is off by " + v.seam()
	}
	return said
}

func (v *likenessView) allowed() string {
	return fmt.Sprintf("%s cm and %s°", shortNumber(v.limits.PlaceCM), shortNumber(v.limits.TurnDeg))
}

func (v *likenessView) seam() string {
	s := v.found.Seam
	said := v.both(s.PlaceCM, s.PlaceJoint, s.TurnDeg, s.TurnJoint)
	if s.WeightPercent >= leastShown {
		said += " and " + small(s.WeightPercent) + " % of " + s.WeightTarget
	}
	return said
}

// both writes a departure of a place and one of a turn, and the joints that they are at.
func (v *likenessView) both(placeCM float64, placeJoint string, turnDeg float64, turnJoint string) string {
	at := func(size float64, unit, joint string) string {
		if size < leastShown {
			return "0" + unit
		}
		return small(size) + unit + " at " + joint
	}
	return at(placeCM, " cm", placeJoint) + " and " + at(turnDeg, "°", turnJoint)
}

// someNames lists the first few of some names.
func someNames(names []string) string {
	const most = 4
	text := strings.Join(names[:min(len(names), most)], ", ")
	if more := len(names) - most; more > 0 {
		text += fmt.Sprintf(" and %d more", more)
	}
	return text
}
