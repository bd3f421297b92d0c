package main

import (
	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// compareFormat names the shape of the JSON of compare, under which fields may be added, but none is removed and none
// changes its meaning.
const compareFormat = "motet-compare-1"

// comparedJSON is what differs between two motions. By is `seconds` or `beats`: what of the two was compared with what.
type comparedJSON struct {
	Format   string        `json:"format"`
	Old      sheetJSON     `json:"old"`
	New      sheetJSON     `json:"new"`
	By       string        `json:"by"`
	Channels []channelJSON `json:"channels"` // those that differ
}

// sheetJSON is one side, its times in frames and beats of its own.
type sheetJSON struct {
	Path            string  `json:"path"`
	Sheet           string  `json:"sheet"`
	FramesPerSecond float64 `json:"framesPerSecond"`
	FramesPerBeat   float64 `json:"framesPerBeat"`
	Frames          float64 `json:"frames"`
	Beats           float64 `json:"beats"`
	Seconds         float64 `json:"seconds"`
	Cycle           bool    `json:"cycle"`
}

// channelJSON is how a channel differs: values in its unit, times in frames of the new motion, but for keysRemoved, whose
// frames are the old one's. In is `old` or `new` for a channel that one of the rigs has alone, and empty otherwise.
type channelJSON struct {
	Path        string    `json:"path"`
	Unit        string    `json:"unit"`
	In          string    `json:"in"`
	Largest     float64   `json:"largest"`
	AtFrame     float64   `json:"atFrame"`
	AtSeconds   float64   `json:"atSeconds"`
	Mean        float64   `json:"mean"`
	KeysAdded   []float64 `json:"keysAdded"`
	KeysRemoved []float64 `json:"keysRemoved"`
	SeamOld     float64   `json:"seamOld"`
	SeamNew     float64   `json:"seamNew"`
}

func comparisonJSON(oldPath, newPath string, found *motion.Comparison) comparedJSON {
	out := comparedJSON{Format: compareFormat, Old: sideJSON(oldPath, found.Old.Sheet), New: sideJSON(newPath, found.New.Sheet), By: "seconds", Channels: []channelJSON{}}
	if found.ByBeat {
		out.By = "beats"
	}
	for i := range found.Channels {
		d := &found.Channels[i]
		out.Channels = append(out.Channels, channelJSON{
			d.Path, d.Unit, d.In, d.Largest, d.AtFrame, d.AtFrame / found.New.Sheet.Rate.Float(), d.Mean,
			frames(d.Added), frames(d.Removed), d.SeamOld, d.SeamNew,
		})
	}
	return out
}

func sideJSON(path string, s *motion.Sheet) sheetJSON {
	return sheetJSON{path, s.Name, s.Rate.Float(), s.Beat.Float(), s.Length.Float(), s.Beats(s.Length).Float(), s.Seconds(s.Length).Float(), s.Closed}
}

func frames(times []grammar.Rat) []float64 {
	out := make([]float64, len(times))
	for i, t := range times {
		out[i] = t.Float()
	}
	return out
}
