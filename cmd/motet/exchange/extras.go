package exchange

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"path"
	"path/filepath"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion"
)

// ClipFormat names the form of what an export leaves in the extras of an animation, under "motet".
const ClipFormat = "motet-clip-1"

// A ClipNote is what an export leaves beside a clip, so that an engine or a build can tell which sheet it came from.
type ClipNote struct {
	Format string `json:"format"`
	// Sheet is the sheet's name, and File the name of its file, without a folder. Text is the whole file, from which an
	// import can restore it, comments and all; empty where an export was asked to leave it out.
	Sheet string `json:"sheet"`
	File  string `json:"file"`
	// Hash is "sha256:" and the hash of the bytes of the file, in hexadecimal digits.
	Hash string `json:"hash"`
	Text string `json:"text,omitempty"`
	// Rate is in frames a second, exactly, such as "24" or "24000/1001"; Tempo in beats a minute.
	Rate  string  `json:"rate"`
	Tempo float64 `json:"tempo"`
	// Beats, Frames and Seconds are the length.
	Beats   float64 `json:"beats"`
	Frames  float64 `json:"frames"`
	Seconds float64 `json:"seconds"`
	// Loop says that the end is the start; false for a span, which plays once.
	Loop bool `json:"loop"`
	// Sources are the other files that the motion depends on: the rig, and the sheets that it is a variant of.
	Sources []ClipSource `json:"sources,omitempty"`
}

// A ClipSource is a file by its path from the sheet's folder, its hash, and its text where that is carried.
type ClipSource struct {
	File string `json:"file"`
	Hash string `json:"hash"`
	Text string `json:"text,omitempty"`
}

// Note tells which sheet a take is of.
func (t *Take) Note() ClipNote {
	m := t.Motion
	s := m.Sheet
	note := ClipNote{
		Format: ClipFormat, Sheet: s.Name, File: baseName(m.File.Path), Hash: HashOf(m.File.Text),
		Rate:  s.Rate.String(),
		Tempo: tidy6(60 * s.Rate.Float() / s.Beat.Float()),
		Beats: tidy6(s.Beats(s.Length).Float()), Frames: tidy6(s.Length.Float()), Seconds: tidy6(s.Seconds(s.Length).Float()),
		Loop: s.Closed,
	}
	for _, file := range sourcesOf(m) {
		note.Sources = append(note.Sources, ClipSource{File: relativeTo(m.File.Path, file.Path), Hash: HashOf(file.Text)})
	}
	return note
}

// sourcesOf are the files that a motion depends on besides its sheet's own, each once.
func sourcesOf(m *motion.Motion) []*grammar.File {
	var out []*grammar.File
	seen := map[string]bool{m.File.Path: true}
	for _, file := range append([]*grammar.File{m.Rig.File}, m.Linked...) {
		if file != nil && !seen[file.Path] {
			seen[file.Path] = true
			out = append(out, file)
		}
	}
	return out
}

// relativeTo is the path of a file from the folder of another; both are paths from the project's folder, with slashes.
func relativeTo(from, to string) string {
	relative, err := filepath.Rel(filepath.FromSlash(path.Dir(from)), filepath.FromSlash(to))
	if err != nil {
		return baseName(to)
	}
	return filepath.ToSlash(relative)
}

// HashOf is the hash of a text as a clip's note writes it.
func HashOf(text string) string {
	sum := sha256.Sum256([]byte(text))
	return "sha256:" + hex.EncodeToString(sum[:])
}

// extras is the note as the extras of an animation.
func (t *Take) extras() (json.RawMessage, error) {
	note := t.Note()
	if t.carries {
		note.Text = t.Motion.File.Text
		for i, file := range sourcesOf(t.Motion) {
			note.Sources[i].Text = file.Text
		}
	}
	text, err := json.Marshal(map[string]ClipNote{"motet": note})
	if err != nil {
		return nil, fmt.Errorf("writing the extras of clip %q: %w", t.Name, err)
	}
	return text, nil
}

func baseName(path string) string {
	for i := len(path) - 1; i >= 0; i-- {
		if path[i] == '/' || path[i] == '\\' {
			return path[i+1:]
		}
	}
	return path
}

// tidy6 leaves out what rounding adds behind the sixth decimal.
func tidy6(x float64) float64 { return round(x, 6) }

// IsOurs tells whether a file is one that an export made anew, and may make again: a .glb, a manifest, places or values.
func IsOurs(data []byte) bool {
	if bytes.HasPrefix(data, []byte(valuesHeader)) {
		return true
	}
	text, _, err := unpack(data)
	if err != nil {
		return false
	}
	var file struct {
		Format string `json:"format"`
		Asset  struct {
			Generator string `json:"generator"`
		} `json:"asset"`
	}
	if json.Unmarshal(text, &file) != nil {
		return false
	}
	return file.Asset.Generator == generator || file.Format == ManifestFormat || file.Format == PlacesFormat
}
