// Package exchange carries motion between glTF 2.0 files and motion sheets.
//
// Import reads a baked clip (read.go, clip.go), works out what an animator meant by it
// (loop.go, stillness.go, turns.go, dials.go, beat.go, names.go), fits curves with few
// keys to it (fit.go) and writes a rig and a sheet (write.go).
package exchange

import (
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"path"
	"strings"

	"github.com/qmuntal/gltf"
)

// A Document is what an import needs of one glTF file: its nodes and its clips, checked,
// so that everything after reading may rely on indices, counts and finite numbers.
type Document struct {
	// Path is the file it was read from, as given.
	Path string
	// Clips are the animations of the file in its order.
	Clips []Clip
	// Notes say in one line each what the file holds that an import leaves out.
	Notes []string

	bytes int // of the file and its buffers
	nodes []node
	skins []int // nodes that are joints of a skin
	// blends are the nodes whose meshes have morph targets.
	blends map[int]*blend
}

// A node is one node of the file with its own transform (metres in its parent's frame).
type node struct {
	name     string
	parent   int // -1 for a root
	children []int
	own      transform
	drawn    bool // carries a mesh, a camera or an extension's object, so it may be no joint
}

// A transform is a node's translation, rotation and scale, applied scale first.
type transform struct {
	move  vec3
	turn  quat
	scale vec3
}

// limits of what is believed of a file, far beyond any character, so that a hostile one
// costs an error message and no memory.
const (
	largestCoordinate = 1e9
	mostNodes         = 20_000
	mostClips         = 4_000
)

// Read reads a glTF 2.0 file, .gltf or .glb. The file and its external buffers come
// through readFile, which is called with name itself and with paths inside name's folder
// only (slash-separated); a buffer that no clip uses is not read.
//
// Errors name the accessor, node, animation or file that is wrong and what to do.
func Read(name string, readFile func(path string) ([]byte, error)) (*Document, error) {
	data, err := readFile(name)
	if err != nil {
		return nil, err
	}
	text, body, err := unpack(data)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	file, err := parse(text)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	doc := &Document{Path: name}
	if doc.nodes, err = readNodes(file); err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	for _, skin := range file.Skins {
		for _, joint := range skin.Joints {
			if joint >= 0 && joint < len(doc.nodes) {
				doc.skins = append(doc.skins, joint)
			}
		}
	}
	doc.blends = readBlends(file)
	store := newStorage(file, body, len(data), path.Dir(toSlash(name)), readFile)
	if err := doc.readClips(file, store); err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	doc.bytes = store.held
	return doc, nil
}

func toSlash(name string) string { return strings.ReplaceAll(name, `\`, "/") }

// unpack separates a .glb container into its JSON text and its binary chunk; a .gltf is
// all text. The container is read here and not by the library's decoder, which believes
// the lengths that a file states and allocates them.
func unpack(data []byte) (text, body []byte, err error) {
	const magic, jsonChunk, binChunk = 0x46546C67, 0x4E4F534A, 0x004E4942
	if len(data) < 4 || binary.LittleEndian.Uint32(data) != magic {
		return data, nil, nil
	}
	if len(data) < 20 {
		return nil, nil, fmt.Errorf("the .glb ends after %d bytes, inside its header; export it again", len(data))
	}
	if version := binary.LittleEndian.Uint32(data[4:]); version != 2 {
		return nil, nil, fmt.Errorf("the .glb container has version %d, and only version 2 is read; export it as glTF 2.0", version)
	}
	rest := data[12:]
	for number := 0; len(rest) >= 8; number++ {
		length, kind := uint64(binary.LittleEndian.Uint32(rest)), binary.LittleEndian.Uint32(rest[4:])
		if length > uint64(len(rest)-8) {
			return nil, nil, fmt.Errorf("chunk %d of the .glb states %d bytes, but the file has only %d left; it was cut short, export it again", number, length, len(rest)-8)
		}
		chunk := rest[8 : 8+length]
		rest = rest[8+length:]
		switch {
		case number == 0 && kind != jsonChunk:
			return nil, nil, fmt.Errorf("the first chunk of the .glb is not JSON (its kind is 0x%08X); export it again", kind)
		case number == 0:
			text = chunk
		case kind == binChunk && body == nil:
			body = chunk
		}
	}
	return text, body, nil
}

// parse decodes the JSON and refuses what the library would otherwise turn silently into
// a default: another version, null entries, unknown component types, paths and
// interpolations.
func parse(text []byte) (*gltf.Document, error) {
	if err := wantVersion(text); err != nil {
		return nil, err
	}
	if err := refuseUnknown(text); err != nil {
		return nil, err
	}
	file := new(gltf.Document)
	if err := json.Unmarshal(text, file); err != nil {
		return nil, unreadable(err)
	}
	return file, refuseNulls(file)
}

// unreadable puts an error of the JSON decoder in words that speak of the file.
func unreadable(err error) error {
	var kind *json.UnmarshalTypeError
	var syntax *json.SyntaxError
	switch {
	case errors.As(err, &kind):
		return fmt.Errorf("the JSON holds a value of the wrong kind (%s) at %s, byte %d; export the file again", kind.Value, kind.Field, kind.Offset)
	case errors.As(err, &syntax) && syntax.Offset <= 2: // no JSON at all: a text, a picture, an empty file
		return errors.New("it is empty, or no glTF: neither a .glb file nor JSON; name the clip that was exported")
	case errors.As(err, &syntax):
		return fmt.Errorf("the JSON is broken at byte %d (%w); export the file again", syntax.Offset, err)
	}
	return fmt.Errorf("the JSON does not parse as glTF 2.0 (%w); export the file again", err)
}

func wantVersion(text []byte) error {
	var head struct {
		Asset *struct {
			Version any `json:"version"`
		} `json:"asset"`
	}
	if err := json.Unmarshal(text, &head); err != nil {
		return unreadable(err)
	}
	if head.Asset == nil {
		return fmt.Errorf("the file states no asset version, and only glTF 2.0 is read; export it as glTF 2.0")
	}
	if version := fmt.Sprint(head.Asset.Version); !strings.HasPrefix(version, "2.") {
		return fmt.Errorf("the asset states version %q, and only glTF 2.0 is read; export it as glTF 2.0", clip(version, 20))
	}
	return nil
}

// refuseUnknown looks at the words of the file that the library replaces by its defaults
// when it does not know them.
func refuseUnknown(text []byte) error {
	var spelled struct {
		Accessors []struct {
			ComponentType int `json:"componentType"`
		} `json:"accessors"`
		Animations []struct {
			Channels []struct {
				Target struct {
					Path string `json:"path"`
				} `json:"target"`
			} `json:"channels"`
			Samplers []struct {
				Interpolation *string `json:"interpolation"`
			} `json:"samplers"`
		} `json:"animations"`
	}
	if err := json.Unmarshal(text, &spelled); err != nil {
		return unreadable(err)
	}
	for i, a := range spelled.Accessors {
		switch a.ComponentType {
		case 5120, 5121, 5122, 5123, 5125, 5126:
		default:
			return fmt.Errorf("accessor %d has component type %d, which glTF 2.0 does not know (5120 to 5123, 5125, 5126); export it again", i, a.ComponentType)
		}
	}
	for i, animation := range spelled.Animations {
		for j, c := range animation.Channels {
			switch c.Target.Path {
			case "translation", "rotation", "scale", "weights", "pointer":
			default:
				return fmt.Errorf("animation %d, channel %d moves %q, which glTF 2.0 does not know (translation, rotation, scale, weights); export it again", i, j, c.Target.Path)
			}
		}
		for j, s := range animation.Samplers {
			if s.Interpolation == nil {
				continue
			}
			switch *s.Interpolation {
			case "LINEAR", "STEP", "CUBICSPLINE":
			default:
				return fmt.Errorf("animation %d, sampler %d has interpolation %q, which glTF 2.0 does not know (LINEAR, STEP, CUBICSPLINE); export it again", i, j, *s.Interpolation)
			}
		}
	}
	return nil
}

// refuseNulls finds null entries of the arrays that are followed by index later.
func refuseNulls(file *gltf.Document) error {
	null := func(what string, i int) error {
		return fmt.Errorf("%s %d is null; export the file again", what, i)
	}
	for i, x := range file.Accessors {
		if x == nil {
			return null("accessor", i)
		}
	}
	for i, x := range file.BufferViews {
		if x == nil {
			return null("bufferView", i)
		}
	}
	for i, x := range file.Buffers {
		if x == nil {
			return null("buffer", i)
		}
	}
	for i, x := range file.Nodes {
		if x == nil {
			return null("node", i)
		}
	}
	for i, x := range file.Skins {
		if x == nil {
			return null("skin", i)
		}
	}
	for i, x := range file.Animations {
		if x == nil {
			return null("animation", i)
		}
		for j := range x.Channels {
			if x.Channels[j] == nil {
				return null(fmt.Sprintf("animation %d, channel", i), j)
			}
		}
		for j := range x.Samplers {
			if x.Samplers[j] == nil {
				return null(fmt.Sprintf("animation %d, sampler", i), j)
			}
		}
	}
	return nil
}
