package exchange

import (
	"fmt"
	"slices"
	"strings"

	"github.com/qmuntal/gltf"
)

// ownBuffer begins the address of a buffer that an export adds to a file that has no binary chunk for it. Each clip has
// one of its own.
const ownBuffer = "data:application/octet-stream;base64,"

// takeOut finds the clip of a name, and takes its numbers out where nothing else can use them.
func (h *host) takeOut(name string) error {
	_, err := h.takeOutAt(slices.IndexFunc(h.file.Animations, func(a *gltf.Animation) bool { return a.Name == name }))
	return err
}

// takeOutAt is takeOut for the clip at a place, -1 for none. It tells whether anything went. The clip is to be written
// anew: until then its samplers lead nowhere.
func (h *host) takeOutAt(at int) (bool, error) {
	h.replaces = at
	if at < 0 {
		return false, nil
	}
	l, ok := h.lotOf(at)
	if !ok || h.uses(&l) {
		return false, nil
	}
	for _, step := range []func(*lot) error{h.cutAnimations, h.cutAccessors, h.cutViews, h.cutBuffers} {
		if err := step(&l); err != nil {
			return false, err
		}
	}
	return true, nil
}

// A lot is the numbers of one clip, as an export writes them: accessors, bufferViews and bytes without a gap. All are
// from the first to the one behind the last.
type lot struct {
	clip       int
	accessors  [2]int
	views      [2]int
	buffer     int
	bytes      [2]int
	wholeOwn   bool // the buffer is one that an export has added for this clip
	bytesAfter bool // other clips' numbers lie behind it in the buffer
}

// lotOf is a clip's lot; none where its numbers are not as an export writes them.
func (h *host) lotOf(clip int) (l lot, ok bool) {
	accessors, views := map[int]bool{}, map[int]bool{}
	for _, s := range h.file.Animations[clip].Samplers {
		for _, i := range []int{s.Input, s.Output} {
			if i < 0 || i >= len(h.file.Accessors) {
				return l, false
			}
			a := h.file.Accessors[i]
			if a.BufferView == nil || a.Sparse != nil || *a.BufferView < 0 || *a.BufferView >= len(h.file.BufferViews) {
				return l, false
			}
			accessors[i], views[*a.BufferView] = true, true
		}
	}
	l.clip = clip
	if l.accessors, ok = unbroken(accessors); !ok {
		return l, false
	}
	if l.views, ok = unbroken(views); !ok {
		return l, false
	}
	l.buffer = h.file.BufferViews[l.views[0]].Buffer
	if l.buffer < 0 || l.buffer >= len(h.file.Buffers) {
		return l, false
	}
	buffer := h.file.Buffers[l.buffer]
	inBody := h.isGLB && l.buffer == 0 && buffer.URI == ""
	l.wholeOwn = strings.HasPrefix(buffer.URI, ownBuffer)
	size := buffer.ByteLength
	if inBody {
		size = min(size, len(h.body))
	}
	l.bytes[0] = size
	for _, view := range h.file.BufferViews[l.views[0]:l.views[1]] {
		start, length := view.ByteOffset, view.ByteLength
		if view.Buffer != l.buffer || start < 0 || start > size || length < 0 || length > size-start {
			return l, false
		}
		l.bytes[0], l.bytes[1] = min(l.bytes[0], start), max(l.bytes[1], start+length)
	}
	if l.wholeOwn {
		return l, l.bytes == [2]int{0, buffer.ByteLength}
	}
	for i := l.views[1]; i < len(h.file.BufferViews); i++ {
		l.bytesAfter = l.bytesAfter || h.file.BufferViews[i].Buffer == l.buffer
	}
	if !inBody || !l.bytesAfter {
		return l, inBody && l.bytes[1] == buffer.ByteLength
	}
	l.bytes[1] = (l.bytes[1] + 3) / 4 * 4 // where the next clip's begin
	return l, l.bytes[0]%4 == 0 && l.bytes[1] <= size
}

// unbroken are the bounds of whole numbers that follow each other without a gap.
func unbroken(set map[int]bool) (bounds [2]int, ok bool) {
	if len(set) == 0 {
		return bounds, false
	}
	first := true
	for i := range set {
		if first {
			bounds, first = [2]int{i, i + 1}, false
		}
		bounds = [2]int{min(bounds[0], i), max(bounds[1], i+1)}
	}
	return bounds, bounds[1]-bounds[0] == len(set)
}

// uses tells whether anything but the lot's clip may use its numbers, or anything but clips those behind it, which move
// up when it goes.
func (h *host) uses(l *lot) bool {
	used := false
	in := func(i int, bounds [2]int) bool { return i >= bounds[0] && i < bounds[1] }
	accessor := func(i int) { used = used || i >= l.accessors[0] }
	for k, a := range h.file.Animations {
		for _, s := range a.Samplers {
			used = used || k != l.clip && (in(s.Input, l.accessors) || in(s.Output, l.accessors))
		}
	}
	for _, mesh := range h.file.Meshes {
		if mesh == nil {
			continue
		}
		for _, primitive := range mesh.Primitives {
			if primitive == nil {
				continue
			}
			if primitive.Indices != nil {
				accessor(*primitive.Indices)
			}
			for _, attributes := range append([]gltf.PrimitiveAttributes{primitive.Attributes}, primitive.Targets...) {
				for _, i := range attributes {
					accessor(i)
				}
			}
		}
	}
	for _, skin := range h.file.Skins {
		if skin.InverseBindMatrices != nil {
			accessor(*skin.InverseBindMatrices)
		}
	}
	for i, a := range h.file.Accessors {
		switch {
		case in(i, l.accessors):
		case i < l.accessors[0]:
			used = used || a.BufferView != nil && *a.BufferView >= l.views[0]
			used = used || a.Sparse != nil && (a.Sparse.Indices.BufferView >= l.views[0] || a.Sparse.Values.BufferView >= l.views[0])
		default:
			used = used || a.Sparse != nil || a.BufferView != nil && in(*a.BufferView, l.views)
		}
	}
	for _, image := range h.file.Images {
		used = used || image != nil && image.BufferView != nil && *image.BufferView >= l.views[0]
	}
	for i, view := range h.file.BufferViews {
		switch {
		case in(i, l.views):
		case view.Buffer > l.buffer:
			used = used || l.wholeOwn && i < l.views[0]
		case view.Buffer < l.buffer:
		case i < l.views[0]:
			used = used || l.wholeOwn || view.ByteOffset < 0 || view.ByteLength < 0 || view.ByteLength > l.bytes[0]-view.ByteOffset
		default:
			used = used || l.wholeOwn || view.ByteOffset < l.bytes[1]
		}
	}
	return used || largestInExtensions(h.object.text()) >= min(l.accessors[0], l.views[0])
}

// cutAnimations has the other clips find their numbers where they are going to be.
func (h *host) cutAnimations(l *lot) error {
	list, err := h.object.list("animations")
	if err != nil {
		return err
	}
	by := l.accessors[1] - l.accessors[0]
	for k, a := range h.file.Animations {
		if k == l.clip || !slices.ContainsFunc(a.Samplers, func(s *gltf.AnimationSampler) bool { return max(s.Input, s.Output) >= l.accessors[1] }) {
			continue
		}
		object, err := readObject(list[k])
		if err != nil {
			return fmt.Errorf("animation %d: %w", k, err)
		}
		samplers, err := object.list("samplers")
		if err != nil {
			return fmt.Errorf("animation %d: %w", k, err)
		}
		for i, s := range a.Samplers {
			sampler, err := readObject(samplers[i])
			if err != nil {
				return fmt.Errorf("animation %d, sampler %d: %w", k, i, err)
			}
			for name, at := range map[string]*int{"input": &s.Input, "output": &s.Output} {
				if *at >= l.accessors[1] {
					*at -= by
					sampler.set(name, fmt.Appendf(nil, "%d", *at))
				}
			}
			samplers[i] = sampler.text()
		}
		object.setList("samplers", samplers)
		list[k] = object.text()
	}
	h.object.setList("animations", list)
	return nil
}

// cutList takes elements out of a list of the file and changes those behind them. change sets what is new of the
// element that was the i-th.
func (h *host) cutList(name string, bounds [2]int, change func(i int, set func(name string, value int))) error {
	list, err := h.object.list(name)
	if err != nil {
		return err
	}
	for i := bounds[1]; i < len(list); i++ {
		var object *rawObject
		set := func(name string, value int) {
			if object.set(name, fmt.Appendf(nil, "%d", value)); name == "byteOffset" && value == 0 {
				object.drop(name) // as it is written
			}
		}
		if object, err = readObject(list[i]); err != nil {
			return fmt.Errorf("%s, %d: %w", name, i, err)
		}
		change(i, set)
		list[i] = object.text()
	}
	h.object.setList(name, append(list[:bounds[0]:bounds[0]], list[bounds[1]:]...))
	return nil
}

func (h *host) cutAccessors(l *lot) error {
	err := h.cutList("accessors", l.accessors, func(i int, set func(string, int)) {
		if view := h.file.Accessors[i].BufferView; view != nil && *view >= l.views[1] {
			moved := *view - (l.views[1] - l.views[0])
			h.file.Accessors[i].BufferView = &moved
			set("bufferView", moved)
		}
	})
	h.file.Accessors = slices.Delete(h.file.Accessors, l.accessors[0], l.accessors[1])
	return err
}

func (h *host) cutViews(l *lot) error {
	err := h.cutList("bufferViews", l.views, func(i int, set func(string, int)) {
		switch view := h.file.BufferViews[i]; {
		case l.wholeOwn && view.Buffer > l.buffer:
			view.Buffer--
			set("buffer", view.Buffer)
		case !l.wholeOwn && view.Buffer == l.buffer:
			view.ByteOffset -= l.bytes[1] - l.bytes[0]
			set("byteOffset", view.ByteOffset)
		}
	})
	h.file.BufferViews = slices.Delete(h.file.BufferViews, l.views[0], l.views[1])
	return err
}

// cutBuffers takes the bytes out. How long the binary chunk is now is written when all has been added.
func (h *host) cutBuffers(l *lot) error {
	if l.wholeOwn {
		list, err := h.object.list("buffers")
		if err != nil {
			return err
		}
		h.object.setList("buffers", slices.Delete(list, l.buffer, l.buffer+1))
		h.file.Buffers = slices.Delete(h.file.Buffers, l.buffer, l.buffer+1)
		return nil
	}
	buffer := h.file.Buffers[l.buffer]
	end := max(l.bytes[1], min(buffer.ByteLength, len(h.body)))
	h.body = append(h.body[:l.bytes[0]:l.bytes[0]], h.body[l.bytes[1]:end]...)
	buffer.ByteLength = len(h.body)
	return nil
}
