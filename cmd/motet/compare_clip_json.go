package main

import (
	"slices"

	"github.com/motet-sheet/motet/cmd/motet/exchange"
)

// likenessFormat names the shape of the JSON about a clip, under which fields may be added, but none is removed and none
// changes its meaning.
const likenessFormat = "motet-compare-clip-1"

// likenessJSON is how a clip compares to what it should be. Same says whether it is that motion within the limits, which
// is what the exit code says too. Places are in centimetres, turns in degrees, both in the world; times are in seconds
// from the start and in frames of the old motion.
type likenessJSON struct {
	Format string         `json:"format"`
	Same   bool           `json:"same"`
	Within withinJSON     `json:"within"`
	Old    likenessSide   `json:"old"`
	New    likenessSide   `json:"new"`
	Place  departureJSON  `json:"place"` // of the joint that is farthest off
	Turn   departureJSON  `json:"turn"`
	Seam   *seamSidesJSON `json:"seam"` // null where the old motion is no loop
	// Beginning is the moment of the old motion at which the clip begins, where that explains how far it is off; null for
	// any other clip.
	Beginning *beginningJSON `json:"beginning"`
	Joints    []jointJSON    `json:"joints"` // those that the clip's file has, those that carry others first
	// Weights are the morph targets that the clip's file has, in per cent, and MissingTargets those that it has not; what
	// changes among them is lost.
	Weights        []weightJSON        `json:"weights"`
	MissingTargets []missingTargetJSON `json:"missingTargets"`
	// Missing are joints of which the clip's file has no node; what moves of its own among them is lost.
	Missing []missingJSON `json:"missing"`
	// Respelled are joints whose nodes have other names, the same by their letters and digits only.
	Respelled []respelledJSON `json:"respelled"`
	// Size is how many times as large the clip's file has everything, and Axes which of the old motion's axes its x, y
	// and z are, empty for the same. Both are taken off before anything is compared.
	Size float64 `json:"size"`
	Axes string  `json:"axes"`
	// Moments is how many moments were looked at. FPS is the clip's own frames a second where those are its frames, since it
	// goes in straight lines between them; Between is how far it is off there then, which counts for nothing. 0 otherwise.
	Moments int         `json:"moments"`
	FPS     float64     `json:"fps"`
	Between betweenJSON `json:"between"`
	// Sheet is the name of the sheet that the clip was compared with, and MadeFrom that of the sheet that the clip says it
	// was made from.
	Sheet    string `json:"sheet"`
	MadeFrom string `json:"madeFrom"`
	// Made are the files that the clip says it was made from, with their hashes then and now; now is empty for a file
	// that the sheet does not rest on. Empty where the clip says nothing, or is compared with a clip.
	Made []versionJSON `json:"made"`
}

type withinJSON struct {
	PlaceCM       float64 `json:"placeCM"`
	TurnDeg       float64 `json:"turnDeg"`
	Frames        float64 `json:"frames"`
	WeightPercent float64 `json:"weightPercent"`
}

// likenessSide is one of the two; clip is empty for a sheet.
type likenessSide struct {
	Path    string  `json:"path"`
	Clip    string  `json:"clip"`
	Seconds float64 `json:"seconds"`
}

type departureJSON struct {
	Joint     string  `json:"joint,omitempty"`
	Largest   float64 `json:"largest"`
	Mean      float64 `json:"mean"`
	AtSeconds float64 `json:"atSeconds"`
	AtFrame   float64 `json:"atFrame"`
}

// jointJSON is one joint; carrier is the joint that carries it, empty for none.
type jointJSON struct {
	Joint   string        `json:"joint"`
	Carrier string        `json:"carrier"`
	Place   departureJSON `json:"place"`
	Turn    departureJSON `json:"turn"`
}

// seamSidesJSON is by how much the step from the last moment to the first differs between the two.
type seamSidesJSON struct {
	PlaceCM    float64 `json:"placeCM"`
	PlaceJoint string  `json:"placeJoint"`
	TurnDeg    float64 `json:"turnDeg"`
	TurnJoint  string  `json:"turnJoint"`
	// WeightPercent is 0 where no weight is off.
	WeightPercent float64 `json:"weightPercent"`
	WeightTarget  string  `json:"weightTarget"`
}

// weightJSON is one morph target.
type weightJSON struct {
	Target string        `json:"target"`
	Weight departureJSON `json:"weight"`
}

type missingTargetJSON struct {
	Target string `json:"target"`
	Moves  bool   `json:"moves"`
}

// betweenJSON has a joint for each size that is not 0.
type betweenJSON struct {
	Place departureJSON `json:"place"`
	Turn  departureJSON `json:"turn"`
}

type missingJSON struct {
	Joint string `json:"joint"`
	Moves bool   `json:"moves"`
}

type respelledJSON struct {
	Joint string `json:"joint"`
	Node  string `json:"node"`
}

type versionJSON struct {
	File string `json:"file"`
	Then string `json:"then"`
	Now  string `json:"now"`
}

func (v *likenessView) json() likenessJSON {
	l := v.found
	departure := func(d exchange.Departure, joint string) departureJSON {
		return departureJSON{joint, d.Largest, d.Mean, d.At, d.At / l.Frame}
	}
	place, turn, placeJoint, turnJoint := l.Largest()
	out := likenessJSON{
		Format: likenessFormat, Same: l.Within(v.limits), Within: withinJSON{v.limits.PlaceCM, v.limits.TurnDeg, v.limits.Frames, v.limits.WeightPercent},
		Old: likenessSide{v.old, l.OldClip, l.Seconds}, New: likenessSide{v.now, l.Clip, l.ClipSeconds},
		Place: departure(place, placeJoint), Turn: departure(turn, turnJoint),
		Joints: []jointJSON{}, Weights: []weightJSON{}, MissingTargets: []missingTargetJSON{}, Missing: []missingJSON{}, Respelled: []respelledJSON{}, Size: l.Size, Axes: l.Axes, Sheet: l.Sheet, MadeFrom: l.MadeFrom, Made: []versionJSON{},
	}
	out.Moments, out.FPS = l.Moments, l.Rate.PerSecond()
	out.Between = betweenJSON{departure(l.Between.Place, l.Between.PlaceJoint), departure(l.Between.Turn, l.Between.TurnJoint)}
	if b := l.Beginning; b != nil {
		out.Beginning = &beginningJSON{b.Seconds, b.Seconds / l.Frame, b.Within(v.limits), departure(b.Place, b.PlaceJoint), departure(b.Turn, b.TurnJoint), nil}
		if b.WeightTarget != "" {
			out.Beginning.Weight = &weightJSON{b.WeightTarget, departure(b.Weight, "")}
		}
	}
	if s := l.Seam; s != nil {
		out.Seam = &seamSidesJSON{s.PlaceCM, s.PlaceJoint, s.TurnDeg, s.TurnJoint, s.WeightPercent, s.WeightTarget}
	}
	for i := range l.Joints {
		j := &l.Joints[i]
		out.Joints = append(out.Joints, jointJSON{j.Joint, j.Carrier, departure(j.Place, ""), departure(j.Turn, "")})
	}
	for i := range l.Weights {
		out.Weights = append(out.Weights, weightJSON{l.Weights[i].Target, departure(l.Weights[i].Weight, "")})
	}
	for _, name := range l.MissingTargets {
		out.MissingTargets = append(out.MissingTargets, missingTargetJSON{name, slices.Contains(l.LostTargets, name)})
	}
	for _, name := range l.Missing {
		out.Missing = append(out.Missing, missingJSON{name, slices.Contains(l.Lost, name)})
	}
	for _, names := range l.Respelled {
		out.Respelled = append(out.Respelled, respelledJSON{names[0], names[1]})
	}
	for _, s := range l.Versions {
		out.Made = append(out.Made, versionJSON{s.File, s.Then, s.Now})
	}
	return out
}
