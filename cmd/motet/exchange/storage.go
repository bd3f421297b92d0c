package exchange

import (
	"encoding/base64"
	"encoding/binary"
	"fmt"
	"math"
	"net/url"
	"path"
	"path/filepath"
	"strings"

	"github.com/qmuntal/gltf"
)

// storage hands out the numbers of accessors. Every offset, length and count is held
// against the bytes that are there before anything is allocated, so memory stays a
// multiple of the file's size whatever the file states.
type storage struct {
	file     *gltf.Document
	body     []byte // the binary chunk of a .glb
	folder   string
	readFile func(path string) ([]byte, error)

	// What has been read, by index. Many samplers may share an accessor, so without
	// these a small file could ask for its numbers to be copied without end.
	buffers  map[int][]byte
	unpacked map[int][]byte // of bufferViews that are packed
	decoded  map[int]numbers
	units    map[int]numbers

	// held are the bytes of the file and its buffers, and asked those of all decoded numbers.
	held, asked int
}

// newStorage makes the storage of a file whose JSON text and binary chunk have so many bytes together.
func newStorage(file *gltf.Document, body []byte, bytes int, folder string, readFile func(path string) ([]byte, error)) *storage {
	return &storage{
		file: file, body: body, folder: folder, readFile: readFile,
		buffers: map[int][]byte{}, unpacked: map[int][]byte{}, decoded: map[int]numbers{}, units: map[int]numbers{}, held: bytes,
	}
}

// How many bytes all decoded numbers may have: some for accessors without a bufferView, all zeros by the standard, whose
// counts have no bytes to be held against, and a multiple of the file and its buffers. A number of one byte becomes one of
// eight; what goes beyond that are accessors that read the same bytes again and again.
const (
	mostEmptyBytes = 1 << 21
	mostAskedTimes = 24
)

// ask allows for the numbers of one accessor more, or refuses them.
func (s *storage) ask(count, width int) error {
	if count > math.MaxInt32 {
		return fmt.Errorf("it states %d elements, more than any clip has; export the file again", count)
	}
	if s.asked += 8 * count * width; s.asked > mostEmptyBytes+mostAskedTimes*s.held {
		return fmt.Errorf("with its %d elements the accessors ask for more numbers than the file and its buffers hold, many times over; export it again", count)
	}
	return nil
}

// numbers are the decoded values of one accessor, width of them an element.
type numbers struct {
	width  int
	values []float64
}

func (n numbers) count() int { return len(n.values) / n.width }

// floats decodes accessor i, with normalised integers turned into -1..1 or 0..1, and
// refuses values that are not finite.
func (s *storage) floats(i int) (numbers, error) {
	if i < 0 || i >= len(s.file.Accessors) {
		return numbers{}, fmt.Errorf("accessor %d is asked for, but the file has %d accessors; export it again", i, len(s.file.Accessors))
	}
	if out, done := s.decoded[i]; done {
		return out, nil
	}
	out, err := s.decode(s.file.Accessors[i])
	if err != nil {
		return numbers{}, fmt.Errorf("accessor %d: %w", i, err)
	}
	for k, x := range out.values {
		if !finite(x) || math.Abs(x) > largestCoordinate {
			return numbers{}, fmt.Errorf("accessor %d: element %d holds %g, which is beyond anything; export the file again", i, k/out.width, x)
		}
	}
	s.decoded[i] = out
	return out, nil
}

// quaternions is floats with every element made unit length.
func (s *storage) quaternions(i int) (numbers, error) {
	if out, done := s.units[i]; done {
		return out, nil
	}
	raw, err := s.floats(i)
	if err != nil {
		return numbers{}, err
	}
	if raw.width != 4 {
		return numbers{}, fmt.Errorf("accessor %d: it has %d numbers an element, and a rotation has 4; export the file again", i, raw.width)
	}
	if err := s.ask(raw.count(), 4); err != nil {
		return numbers{}, fmt.Errorf("accessor %d: %w", i, err)
	}
	out := numbers{width: 4, values: make([]float64, len(raw.values))}
	for k := range raw.count() {
		q := quat(raw.values[4*k : 4*k+4])
		if q.dot(q) < 1e-12 {
			return numbers{}, fmt.Errorf("accessor %d: the rotation at element %d has no length; export the file again", i, k)
		}
		q = q.normal()
		copy(out.values[4*k:], q[:])
	}
	s.units[i] = out
	return out, nil
}

func (s *storage) decode(a *gltf.Accessor) (numbers, error) {
	width := components(a.Type)
	if width == 0 {
		return numbers{}, fmt.Errorf("its type is a matrix, and clips hold numbers and vectors; export the file again")
	}
	if a.Count < 1 {
		return numbers{}, fmt.Errorf("its count is %d, and it must be at least 1; export the file again", a.Count)
	}
	out := numbers{width: width}
	if a.BufferView == nil {
		if s.ask(a.Count, width) != nil {
			return numbers{}, fmt.Errorf("it states %d elements and has no bufferView to hold them; export the file again", a.Count)
		}
		out.values = make([]float64, a.Count*width)
	} else {
		data, stride, err := s.elements(*a.BufferView, a.ByteOffset, a.Count, width*componentBytes(a.ComponentType))
		if err != nil {
			return numbers{}, err
		}
		if err := s.ask(a.Count, width); err != nil {
			return numbers{}, err
		}
		out.values = make([]float64, 0, a.Count*width)
		for k := range a.Count {
			out.values = appendComponents(out.values, data[k*stride:], width, a.ComponentType, a.Normalized)
		}
	}
	if a.Sparse == nil {
		return out, nil
	}
	return out, s.substitute(a, out)
}

// substitute puts the values of a sparse accessor over those of its base.
func (s *storage) substitute(a *gltf.Accessor, out numbers) error {
	sparse := a.Sparse
	if sparse.Count < 1 || sparse.Count > a.Count {
		return fmt.Errorf("it substitutes %d of its %d elements; export the file again", sparse.Count, a.Count)
	}
	kind := sparse.Indices.ComponentType
	if kind != gltf.ComponentUbyte && kind != gltf.ComponentUshort && kind != gltf.ComponentUint {
		return fmt.Errorf("its sparse indices are not unsigned integers; export the file again")
	}
	places, placeStride, err := s.elements(sparse.Indices.BufferView, sparse.Indices.ByteOffset, sparse.Count, componentBytes(kind))
	if err != nil {
		return fmt.Errorf("sparse indices: %w", err)
	}
	data, stride, err := s.elements(sparse.Values.BufferView, sparse.Values.ByteOffset, sparse.Count, out.width*componentBytes(a.ComponentType))
	if err != nil {
		return fmt.Errorf("sparse values: %w", err)
	}
	var one []float64
	for k := range sparse.Count {
		at := int(appendComponents(one[:0], places[k*placeStride:], 1, kind, false)[0])
		if at >= a.Count {
			return fmt.Errorf("its sparse index %d points at element %d of %d; export the file again", k, at, a.Count)
		}
		one = appendComponents(one[:0], data[k*stride:], out.width, a.ComponentType, a.Normalized)
		copy(out.values[at*out.width:], one)
	}
	return nil
}

// elements is the part of a bufferView where count elements of size bytes lie, and the
// distance between them, after all of it is known to lie inside the buffer.
func (s *storage) elements(view, offset, count, size int) (data []byte, stride int, err error) {
	if view < 0 || view >= len(s.file.BufferViews) {
		return nil, 0, fmt.Errorf("it lies in bufferView %d, but the file has %d; export it again", view, len(s.file.BufferViews))
	}
	v := s.file.BufferViews[view]
	if extension, packed := v.Extensions[meshoptName]; packed {
		if data, err = s.unpackedView(view, extension); err != nil {
			return nil, 0, err
		}
	} else if data, err = s.plainView(view); err != nil {
		return nil, 0, err
	}
	if stride = v.ByteStride; stride == 0 {
		stride = size
	}
	if stride < size || stride > 252 {
		return nil, 0, fmt.Errorf("bufferView %d has stride %d for elements of %d bytes (4 to 252); export the file again", view, stride, size)
	}
	if offset < 0 || offset > len(data) || len(data)-offset < size || (len(data)-offset-size)/stride < count-1 {
		return nil, 0, fmt.Errorf("it states %d elements of %d bytes from byte %d of bufferView %d, which has %d bytes; the file was cut short or miswritten, export it again", count, size, offset, view, len(data))
	}
	return data[offset:], stride, nil
}

// plainView is the part of a buffer that a bufferView is.
func (s *storage) plainView(view int) ([]byte, error) {
	v := s.file.BufferViews[view]
	if _, packed := v.Extensions["KHR_meshopt_compression"]; packed {
		return nil, fmt.Errorf("bufferView %d is packed with KHR_meshopt_compression, which is not read; export the file with %s or without", view, meshoptName)
	}
	buffer, err := s.buffer(v.Buffer)
	if err != nil {
		return nil, fmt.Errorf("bufferView %d: %w", view, err)
	}
	if v.ByteOffset < 0 || v.ByteLength < 1 || v.ByteOffset > len(buffer) || v.ByteLength > len(buffer)-v.ByteOffset {
		return nil, fmt.Errorf("bufferView %d states bytes %d to %d of buffer %d, which has %d; export the file again", view, v.ByteOffset, v.ByteOffset+v.ByteLength, v.Buffer, len(buffer))
	}
	return buffer[v.ByteOffset : v.ByteOffset+v.ByteLength], nil
}

// buffer reads a buffer at its first use.
func (s *storage) buffer(i int) ([]byte, error) {
	if i < 0 || i >= len(s.file.Buffers) {
		return nil, fmt.Errorf("it lies in buffer %d, but the file has %d; export it again", i, len(s.file.Buffers))
	}
	if data, done := s.buffers[i]; done {
		return data, nil
	}
	b := s.file.Buffers[i]
	data, err := s.fetch(i, b.URI)
	if err != nil {
		return nil, err
	}
	if b.ByteLength < 1 || b.ByteLength > len(data) {
		return nil, fmt.Errorf("buffer %d states %d bytes, but there are %d; the file was cut short, export it again", i, b.ByteLength, len(data))
	}
	if b.URI != "" && !strings.HasPrefix(b.URI, "data:") {
		s.held += b.ByteLength
	}
	s.buffers[i] = data[:b.ByteLength]
	return s.buffers[i], nil
}

// fetch follows a buffer's address: the binary chunk, a data URI, or a file inside the
// glTF's own folder and nowhere else.
func (s *storage) fetch(i int, address string) ([]byte, error) {
	switch {
	case address == "" && i == 0 && s.body != nil:
		return s.body, nil
	case address == "":
		return nil, fmt.Errorf("buffer %d has no uri and the file no binary chunk for it; export it again", i)
	case strings.HasPrefix(address, "data:"):
		_, text, found := strings.Cut(address, ";base64,")
		if !found {
			return nil, fmt.Errorf("buffer %d is a data URI that is not base64 (%s…); export it again", i, clip(address, 40))
		}
		data, err := base64.StdEncoding.DecodeString(text)
		if err != nil {
			if data, err = base64.RawStdEncoding.DecodeString(text); err != nil {
				return nil, fmt.Errorf("buffer %d is a data URI that does not decode (%w); export it again", i, err)
			}
		}
		return data, nil
	}
	local, err := url.PathUnescape(toSlash(address))
	parsed, bad := url.Parse(toSlash(address))
	if err != nil || bad != nil || parsed.Scheme != "" || !filepath.IsLocal(local) || path.IsAbs(local) {
		return nil, fmt.Errorf("buffer %d lies at %q, and only files inside the glTF's own folder are read; put the buffer beside it or export a .glb", i, clip(address, 120))
	}
	data, err := s.readFile(path.Join(s.folder, local))
	if err != nil {
		return nil, fmt.Errorf("buffer %d: %w; put the file beside the glTF or export a .glb", i, err)
	}
	return data, nil
}

// clip shortens text to at most n bytes for a message.
func clip(text string, n int) string {
	if len(text) > n {
		return text[:n]
	}
	return text
}

func components(kind gltf.AccessorType) int {
	switch kind {
	case gltf.AccessorScalar:
		return 1
	case gltf.AccessorVec2:
		return 2
	case gltf.AccessorVec3:
		return 3
	case gltf.AccessorVec4:
		return 4
	}
	return 0
}

func componentBytes(kind gltf.ComponentType) int {
	switch kind {
	case gltf.ComponentByte, gltf.ComponentUbyte:
		return 1
	case gltf.ComponentShort, gltf.ComponentUshort:
		return 2
	}
	return 4
}

// appendComponents decodes one element. Normalised integers follow the equations of the
// glTF 2.0 specification, section on animations: c/127, c/255, c/32767, c/65535.
func appendComponents(to []float64, data []byte, width int, kind gltf.ComponentType, normalised bool) []float64 {
	for i := range width {
		var x, full float64
		switch kind {
		case gltf.ComponentByte:
			x, full = float64(int8(data[i])), 127
		case gltf.ComponentUbyte:
			x, full = float64(data[i]), 255
		case gltf.ComponentShort:
			x, full = float64(int16(binary.LittleEndian.Uint16(data[2*i:]))), 32767
		case gltf.ComponentUshort:
			x, full = float64(binary.LittleEndian.Uint16(data[2*i:])), 65535
		case gltf.ComponentUint:
			x, full = float64(binary.LittleEndian.Uint32(data[4*i:])), math.MaxUint32
		default:
			x, full = float64(math.Float32frombits(binary.LittleEndian.Uint32(data[4*i:]))), 1
			normalised = false
		}
		if normalised {
			x = math.Max(x/full, -1)
		}
		to = append(to, x)
	}
	return to
}
