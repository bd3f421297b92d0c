package exchange

import (
	"encoding/json"
	"fmt"
	"slices"

	"github.com/qmuntal/gltf"
)

// IntoAll puts takes into an animator's own file, as [Into] does one. Where no clip has a take's name, and none was asked
// for, it takes the place of the clip from whose name an import makes that word, and keeps that name: so clips that were
// imported go back where they came from. The numbers of all clips that earlier exports wrote are taken out together, so that
// a file does not grow from round to round. It says in lines which clips went.
func IntoAll(name string, data []byte, takes []*Take) (out []byte, lines []string, err error) {
	host, err := openHost(data)
	if err != nil {
		return nil, nil, fmt.Errorf("%s: %w", name, err)
	}
	placed, taken := make([]*Take, len(takes)), map[int]int{}
	for i, take := range takes {
		placed[i] = take
		at := clipFor(host.file, take)
		if at < 0 {
			continue
		}
		if other, twice := taken[at]; twice {
			return nil, nil, fmt.Errorf("%s: %s and %s would both take the place of the clip %q; export one of them alone, with --clip and another name", name, takes[other].Motion.File.Path, take.Motion.File.Path, host.file.Animations[at].Name)
		}
		taken[at] = i
		if own := host.file.Animations[at].Name; own != take.Name {
			renamed := *take
			renamed.Name, placed[i] = own, &renamed
			lines = append(lines, fmt.Sprintf("%s takes the place of the clip %q", take.Name, own))
		}
	}
	if len(taken) > 1 {
		if data, err = hollowed(data, taken); err != nil {
			return nil, nil, fmt.Errorf("%s: %w", name, err)
		}
	}
	for _, take := range placed {
		if data, err = Into(name, data, take); err != nil {
			return nil, nil, err
		}
	}
	return data, lines, nil
}

// clipFor is the clip of a file whose place a take takes, -1 for none: that of its name, or where no name was asked for,
// that whose name makes the take's.
func clipFor(file *gltf.Document, take *Take) int {
	if at := slices.IndexFunc(file.Animations, func(a *gltf.Animation) bool { return a.Name == take.Name }); at >= 0 || take.named {
		return at
	}
	words := map[string]bool{}
	for i, a := range file.Animations {
		// As an import names them: see [Document.word]. One without a name is nobody's.
		if unique(clipWord(a.Name, "clip"), "", words) == take.Name && clipWord(a.Name, "") != "" {
			return i
		}
	}
	return -1
}

// hollowed is a file whose clips at these places have lost their numbers, as far as nothing else can use them. The
// clips are to be written anew.
func hollowed(data []byte, clips map[int]int) ([]byte, error) {
	c, err := openHost(data)
	if err != nil {
		return nil, err
	}
	h := &host{file: c.file, body: c.body, isGLB: len(c.text) != len(data)}
	if h.object, err = readObject(c.text); err != nil {
		return nil, err
	}
	list, err := h.object.list("animations")
	if err != nil {
		return nil, err
	}
	for again := true; again; {
		again = false
		for at := range clips {
			if len(h.file.Animations[at].Samplers) == 0 {
				continue
			}
			if gone, err := h.takeOutAt(at); err != nil {
				return nil, err
			} else if !gone {
				continue
			}
			again = true
			h.file.Animations[at] = &gltf.Animation{Name: h.file.Animations[at].Name}
			if list[at], err = json.Marshal(map[string]any{"name": h.file.Animations[at].Name, "channels": []int{}, "samplers": []int{}}); err != nil {
				return nil, fmt.Errorf("writing the animation: %w", err)
			}
			h.object.setList("animations", list)
		}
	}
	buffers, err := h.object.list("buffers")
	if err != nil {
		return nil, err
	}
	if len(h.body) < len(c.body) {
		if err := h.setBodyLength(buffers); err != nil {
			return nil, err
		}
	}
	return h.whole()
}
