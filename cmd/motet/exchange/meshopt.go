package exchange

import (
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math"
)

// meshoptName is the extension of glTF 2.0 that packs the bytes of a bufferView. What is said of its bitstream here is
// by its specification (Khronos glTF registry, EXT_meshopt_compression, appendices A and B).
const meshoptName = "EXT_meshopt_compression"

// packedView is what the extension says of a bufferView.
type packedView struct {
	Buffer     int    `json:"buffer"`
	ByteOffset int    `json:"byteOffset"`
	ByteLength int    `json:"byteLength"`
	ByteStride int    `json:"byteStride"`
	Count      int    `json:"count"`
	Mode       string `json:"mode"`
	Filter     string `json:"filter"`
}

// unpackedView gives the bytes of a bufferView that is packed. Only what clips use is read: attributes, and the filters for
// turns and for numbers.
func (s *storage) unpackedView(view int, extension any) ([]byte, error) {
	if out, done := s.unpacked[view]; done {
		return out, nil
	}
	text, err := json.Marshal(extension)
	var p packedView
	if err == nil {
		err = json.Unmarshal(text, &p)
	}
	if err != nil {
		return nil, fmt.Errorf("bufferView %d: what %s says of it does not parse (%w); export the file again", view, meshoptName, err)
	}
	data, err := s.buffer(p.Buffer)
	if err == nil {
		data, err = p.bytes(data)
	}
	if err == nil {
		data, err = p.unpack(data)
	}
	if err != nil {
		return nil, fmt.Errorf("bufferView %d, packed with %s: %w", view, meshoptName, err)
	}
	s.held += len(data)
	s.unpacked[view] = data
	return data, nil
}

// bytes are the packed ones, after all that is said of them is known to be possible.
func (p *packedView) bytes(buffer []byte) ([]byte, error) {
	switch {
	case p.Mode != "ATTRIBUTES":
		return nil, fmt.Errorf("its mode is %q, and the numbers of a clip have ATTRIBUTES; export the file again", clip(p.Mode, 20))
	case p.ByteStride < 4 || p.ByteStride > 256 || p.ByteStride%4 != 0:
		return nil, fmt.Errorf("its stride is %d, and must be a multiple of 4 up to 256; export the file again", p.ByteStride)
	case p.ByteOffset < 0 || p.ByteLength < 1 || p.ByteOffset > len(buffer) || p.ByteLength > len(buffer)-p.ByteOffset:
		return nil, fmt.Errorf("it states bytes %d to %d of buffer %d, which has %d; the file was cut short, export it again", p.ByteOffset, p.ByteOffset+p.ByteLength, p.Buffer, len(buffer))
	case p.Count < 1 || p.Count > leastPacked*p.ByteLength:
		return nil, fmt.Errorf("it states %d elements in %d bytes, which can't hold them; export the file again", p.Count, p.ByteLength)
	}
	return buffer[p.ByteOffset : p.ByteOffset+p.ByteLength], nil
}

// leastPacked is how many bytes of a kind one packed byte can stand for at most: four groups of sixteen.
const leastPacked = 64

// unpack decodes the elements and takes the filter off.
func (p *packedView) unpack(data []byte) ([]byte, error) {
	out, err := unpackAttributes(data, p.Count, p.ByteStride)
	if err != nil {
		return nil, err
	}
	switch p.Filter {
	case "", "NONE":
	case "QUATERNION":
		if p.ByteStride != 8 {
			return nil, fmt.Errorf("its filter is for elements of 8 bytes, and these have %d; export the file again", p.ByteStride)
		}
		unfilterTurns(out)
	case "EXPONENTIAL":
		unfilterNumbers(out)
	default:
		return nil, fmt.Errorf("its filter is %q, and the numbers of a clip have NONE, QUATERNION or EXPONENTIAL; export the file again", clip(p.Filter, 20))
	}
	return out, nil
}

const (
	attributesHeader = 0xa0
	groupElements    = 16
	leastTail        = 32
)

// unpackAttributes decodes a stream of deltas, byte by byte of the elements, in blocks.
func unpackAttributes(data []byte, count, stride int) ([]byte, error) {
	short := func() error {
		return fmt.Errorf("its %d bytes end before its %d elements do; the file was cut short, export it again", len(data), count)
	}
	tail := max(leastTail, stride)
	if len(data) < 1+tail {
		return nil, short()
	}
	if data[0] != attributesHeader {
		return nil, fmt.Errorf("its stream begins with 0x%02X and not with 0x%02X, the version that is read; export the file again", data[0], attributesHeader)
	}
	last := append([]byte(nil), data[len(data)-stride:]...)
	rest := data[1 : len(data)-tail]
	out := make([]byte, count*stride)
	most := min(8192/stride&^15, 256)
	var deltas [256]byte
	for from := 0; from < count; from += most {
		elements := min(most, count-from)
		for k := range stride {
			var ok bool
			if rest, ok = readDeltas(rest, deltas[:(elements+groupElements-1)/groupElements*groupElements]); !ok {
				return nil, short()
			}
			at := from*stride + k
			for _, d := range deltas[:elements] {
				last[k] += d>>1 ^ -(d & 1) // zigzag: 0 -1 1 -2 …
				out[at] = last[k]
				at += stride
			}
		}
	}
	return out, nil
}

// readDeltas reads the deltas of one byte of all elements of a block, still zigzagged, a group after the other.
func readDeltas(data, deltas []byte) (rest []byte, ok bool) {
	groups := len(deltas) / groupElements
	headers := (groups + 3) / 4
	if len(data) < headers {
		return nil, false
	}
	rest = data[headers:]
	for g := range groups {
		group := deltas[g*groupElements : (g+1)*groupElements]
		mode := data[g/4] >> (g % 4 * 2) & 3
		size := [...]int{0, 4, 8, 16}[mode]
		if len(rest) < size {
			return nil, false
		}
		packed := rest[:size]
		rest = rest[size:]
		switch mode {
		case 0:
			clear(group)
		case 3:
			copy(group, packed)
		default:
			bits := int(mode) * 2
			sentinel, each := byte(1)<<bits-1, 8/bits
			for i := range group {
				if group[i] = packed[i/each] >> (8 - bits - i%each*bits) & sentinel; group[i] != sentinel {
					continue
				}
				if len(rest) == 0 {
					return nil, false
				}
				group[i], rest = rest[0], rest[1:]
			}
		}
	}
	return rest, true
}

// unfilterTurns makes quaternions as normalised integers of 16 bits of their three smaller parts.
func unfilterTurns(data []byte) {
	for at := 0; at+8 <= len(data); at += 8 {
		var in [4]int16
		for i := range in {
			in[i] = int16(binary.LittleEndian.Uint16(data[at+2*i:]))
		}
		one := float64(in[3] | 3)
		var part [4]float64 // the largest first
		square := 0.0
		for i := range 3 {
			part[i+1] = float64(in[i]) / one * math.Sqrt2 / 2
			square += part[i+1] * part[i+1]
		}
		part[0] = math.Sqrt(math.Max(0, 1-square))
		for i, v := range part {
			v = math.Max(-32767, math.Min(32767, math.Round(v*32767)))
			binary.LittleEndian.PutUint16(data[at+2*((int(in[3]&3)+i)%4):], uint16(int16(v)))
		}
	}
}

// unfilterNumbers makes floats of exponents and whole mantissas.
func unfilterNumbers(data []byte) {
	for at := 0; at+4 <= len(data); at += 4 {
		v := int32(binary.LittleEndian.Uint32(data[at:]))
		binary.LittleEndian.PutUint32(data[at:], math.Float32bits(float32(math.Ldexp(float64(v<<8>>8), int(v>>24)))))
	}
}
