package watch

import (
	"encoding/base64"
	"encoding/binary"
	"errors"
	"io/fs"
	"math"
	"net/http"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"github.com/motet-sheet/motet/lint/motion"
)

// toldModel is the character that a rig names, and how its nodes follow the rig's joints.
type toldModel struct {
	Path  string // from the project's folder
	File  string // its name without the folder
	Nodes []toldNode
	Rest  string // base64 of little-endian 32-bit floats: joint by joint, each one's frame in the world at rest, as in Turns, and its place in cm
	Turns string // the same of each sample's frames alone: joint by joint, the three axes of its frame, x y z each
	// Targets are the morph targets that the rig knows, and Weights the same as Turns of each sample's weights, target by
	// target, from 0 to 1.
	Targets []toldTarget
	Weights string
}

// toldTarget is a morph target by its name in the model: of all meshes that have it, or of one node's.
type toldTarget struct {
	Name string
	On   bool // of the node alone
	Node toldNode
}

// toldNode is what a joint is in the model: by number and name where an import has said so, or else by name alone.
type toldNode struct {
	Number int // -1 where nobody has said so
	Name   string
}

// tellModel is nil where the rig names no model.
func tellModel(m *motion.Motion, sampled *motion.Sampled) *toldModel {
	if m.Rig.Model == "" {
		return nil
	}
	t := &toldModel{Path: m.Rig.Model, File: path.Base(m.Rig.Model), Nodes: []toldNode{}, Targets: []toldTarget{}}
	for i := range m.Rig.Joints {
		j := &m.Rig.Joints[i]
		node, ok := j.Node()
		if !ok {
			node = motion.ModelNode{Number: -1, Name: j.Name}
		}
		t.Nodes = append(t.Nodes, toldNode{node.Number, node.Name})
	}
	var rest []byte
	for _, world := range m.Rig.RestWorld() {
		rest = appendFloats(rest, world[:])
	}
	turns := make([]byte, 0, sampled.Count*len(m.Rig.Joints)*9*4)
	player := m.Player()
	for i := range sampled.Count {
		for _, world := range player.Figure(sampled.Time(i)).World {
			turns = appendFloats(turns, world[:9])
		}
	}
	t.Weights = tellWeights(m, sampled)
	for i := range m.Rig.Morphs {
		of := &m.Rig.Morphs[i].Target
		t.Targets = append(t.Targets, toldTarget{of.Name, of.On, toldNode{of.Node, of.NodeName}})
	}
	t.Rest, t.Turns = base64.StdEncoding.EncodeToString(rest), base64.StdEncoding.EncodeToString(turns)
	return t
}

func tellWeights(m *motion.Motion, sampled *motion.Sampled) string {
	if len(m.Rig.Morphs) == 0 {
		return ""
	}
	var all []byte
	var values, weights []float64
	for i := range sampled.Count {
		values = m.Values(sampled.Time(i), values)
		weights = m.Rig.Weights(values, weights)
		all = appendFloats(all, weights)
	}
	return base64.StdEncoding.EncodeToString(all)
}

func appendFloats(to []byte, values []float64) []byte {
	for _, v := range values {
		to = binary.LittleEndian.AppendUint32(to, math.Float32bits(float32(v)))
	}
	return to
}

// modelKinds are the endings of what a model is made of: the model itself, its numbers and its pictures.
var modelKinds = []string{".glb", ".gltf", ".bin", ".png", ".jpg", ".jpeg", ".webp"}

// model gives a file of the model that a sheet's rig names: the model itself, or one that it names in turn, by its path from
// the model's folder. What lies outside that folder, or outside the project by a link, is not given.
func (p *Page) model(w http.ResponseWriter, r *http.Request) {
	s, _, ok := p.asked(w, r)
	if !ok {
		return
	}
	name := r.URL.Query().Get("file")
	if s.Motion.Rig == nil || s.Motion.Rig.Model == "" || s.Root == "" || !filepath.IsLocal(filepath.FromSlash(name)) || !slices.Contains(modelKinds, strings.ToLower(path.Ext(name))) {
		http.Error(w, "there is no such file of a model", http.StatusNotFound)
		return
	}
	root, err := os.OpenRoot(s.Root)
	if err != nil {
		http.Error(w, "the project's folder can't be opened", http.StatusNotFound)
		return
	}
	defer func() { _ = root.Close() }()
	full := filepath.FromSlash(path.Join(path.Dir(s.Motion.Rig.Model), name))
	info, err := root.Stat(full) // before it is opened, which of a pipe would wait for somebody to write into it
	if err == nil && !info.Mode().IsRegular() {
		err = errors.New("it is no file")
	}
	var file *os.File
	if err == nil {
		file, err = root.Open(full)
	}
	if err != nil {
		why := plain(err).Error()
		if errors.Is(err, fs.ErrNotExist) {
			why = "there is no such file"
		}
		http.Error(w, why, http.StatusNotFound)
		return
	}
	defer func() { _ = file.Close() }()
	w.Header().Set("Content-Type", "application/octet-stream")
	http.ServeContent(w, r, "", info.ModTime(), file)
}
