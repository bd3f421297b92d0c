package exchange

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strconv"

	"github.com/motet-sheet/motet/lint/motion"
)

// valuesHeader begins the first line of a file of values.
const valuesHeader = "frame,seconds,beat"

// moments are the whole frames of a sheet, and its end.
func moments(m *motion.Motion) []float64 {
	length := m.Sheet.Length.Float()
	var out []float64
	for f := 0; float64(f) < length; f++ {
		out = append(out, float64(f))
	}
	return append(out, length)
}

// atMoment is a moment to ask the sheet about: a cycle's end is asked for just before it, since at it the next round has
// begun.
func atMoment(m *motion.Motion, frames float64) float64 {
	if frames == m.Sheet.Length.Float() {
		return frames - besideJump
	}
	return frames
}

// WriteCSV gives the value of every channel at every frame as comma-separated values (RFC 4180, lines end in LF): a row
// a frame, a column a channel, named by its path and its unit.
func WriteCSV(m *motion.Motion) []byte {
	var out bytes.Buffer
	out.WriteString(valuesHeader)
	for i := range m.Channels {
		fmt.Fprintf(&out, ",%s (%s)", m.Channels[i].Dial.Path, m.Channels[i].Dial.Unit)
	}
	out.WriteByte('\n')
	var values []float64
	for _, frames := range moments(m) {
		out.WriteString(number(frames, 6) + "," + number(frames/m.Sheet.Rate.Float(), 6) + "," + number(frames/m.Sheet.Beat.Float(), 6))
		values = m.Values(atMoment(m, frames), values)
		for _, v := range values {
			out.WriteString("," + number(v, 4))
		}
		out.WriteByte('\n')
	}
	return out.Bytes()
}

// PlacesFormat names the form of a file of places. Its JSON names are kept stable.
const PlacesFormat = "motet-places-1"

// WritePlaces gives where every joint is at every frame, as JSON: the joints by name, and for each frame the x, y and z
// of each joint in the world, in centimetres. Where the rig knows morph targets, their names in the character's file and
// their weights, from 0 to 1, stand beside them.
func WritePlaces(m *motion.Motion) ([]byte, error) {
	head := struct {
		Format string   `json:"format"`
		Sheet  string   `json:"sheet"`
		Hash   string   `json:"hash"`
		Rate   string   `json:"rate"`
		Unit   string   `json:"unit"`
		Joints []string `json:"joints"`
		Morphs []string `json:"morphs,omitempty"`
	}{PlacesFormat, m.Sheet.Name, HashOf(m.File.Text), m.Sheet.Rate.String(), "cm", nil, nil}
	for i := range m.Rig.Joints {
		head.Joints = append(head.Joints, m.Rig.Joints[i].Name)
	}
	for i := range m.Rig.Morphs {
		head.Morphs = append(head.Morphs, m.Rig.Morphs[i].Target.Name)
	}
	out, err := json.Marshal(head)
	if err != nil {
		return nil, fmt.Errorf("writing the places: %w", err)
	}
	out = append(out[:len(out)-1], ",\n\"frames\":[\n"...)
	player := m.Player()
	var values, weights []float64
	for k, frames := range moments(m) {
		if k > 0 {
			out = append(out, ",\n"...)
		}
		out = append(append(out, `{"frame":`...), number(frames, 6)...)
		out = append(out, `,"places":[`...)
		for i, world := range player.Figure(atMoment(m, frames)).World {
			for axis, v := range world.Position() {
				switch {
				case axis > 0:
					out = append(out, ',')
				case i > 0:
					out = append(out, ",["...)
				default:
					out = append(out, '[')
				}
				out = strconv.AppendFloat(out, round(v, 4), 'f', -1, 64)
			}
			out = append(out, ']')
		}
		out = append(out, ']')
		if len(m.Rig.Morphs) > 0 {
			values = m.Values(atMoment(m, frames), values)
			weights = m.Rig.Weights(values, weights)
			out = append(out, `,"weights":[`...)
			for i, w := range weights {
				if i > 0 {
					out = append(out, ',')
				}
				out = strconv.AppendFloat(out, round(w, 6), 'f', -1, 64)
			}
			out = append(out, ']')
		}
		out = append(out, '}')
	}
	return append(out, "\n]}\n"...), nil
}
