package watch

import (
	"encoding/base64"
	"encoding/binary"
	"math"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/draw"
	"github.com/motet-sheet/motet/lint/motion"
)

// told is a sheet as the page gets it. Times are in frames.
type told struct {
	Name   string      `json:"name"`
	Path   string      `json:"path"`
	Since  int         `json:"since"` // the version since which it has been so
	Text   []string    `json:"text"`  // line by line
	Whole  bool        `json:"whole"`
	Moves  *toldMotion `json:"motion,omitempty"`
	Model  *toldModel  `json:"model,omitempty"`
	Rows   []toldRow   `json:"rows"`
	Strips []toldStrip `json:"strips"`
}

// toldFaults is what is wrong with a sheet.
type toldFaults struct {
	Since    int           `json:"since"`
	Findings []toldFinding `json:"findings"`
}

// toldMotion is a figure's motion: for every frame, where each spot of the body is.
type toldMotion struct {
	Rate, Beat, Length, Phase float64
	Closed                    bool
	View                      string
	Height                    float64
	Spots                     []string
	Joints                    int // the first so many spots are the rig's joints
	Bones                     []toldBone
	Feet                      []toldFoot
	Count                     int     // of samples
	Step                      float64 // frames from one to the next
	Places                    string  // base64 of little-endian 32-bit floats: sample by sample, spot by spot, x y z in cm
}

// toldBone is from, to, both radii, side, group, over; see draw.Bone.
type toldBone struct {
	From, To int
	R0, R1   float64
	Ink      string
	Group    int
	Over     float64
	Eye      bool
}

type toldFoot struct {
	Heel, Toe int
	Planted   string // a letter a sample: 1 where the foot is planted, 0 where it is free
}

// toldRow is a row of a table that has a time.
type toldRow struct {
	Line   int     `json:"line"`
	Block  int     `json:"block"` // the line that opens its block
	Frames float64 `json:"frames"`
	Period float64 `json:"period"` // frames after which the row is played again
}

// toldStrip is a channel over time.
type toldStrip struct {
	Path     string    `json:"path"`
	Unit     string    `json:"unit"`
	Positive string    `json:"positive"`
	Ink      string    `json:"ink"`
	Rest     float64   `json:"rest"`
	Values   []float64 `json:"values"` // one a sample, and one more: how it arrives at the end
	Keys     []toldKey `json:"keys"`
	Jump     float64   `json:"jump"` // at the seam
	Late     float64   `json:"late"` // of the jump
}

type toldKey struct {
	Frames float64 `json:"frames"`
	Value  float64 `json:"value"`
	Line   int     `json:"line"` // -1 where it is written in another file
}

type toldFinding struct {
	Line    int    `json:"line"`
	Level   string `json:"level"`
	Rule    string `json:"rule"`
	Message string `json:"message"`
}

// tell works out all that the page shows of a sheet but its findings. Sampled is nil for a sheet without a motion.
func tell(s *Sheet, sampled *motion.Sampled) *told {
	m := s.Motion
	t := &told{
		Name: s.Path, Path: s.Path, Whole: m.Whole(), Rows: []toldRow{}, Strips: []toldStrip{},
		Text: strings.Split(strings.ReplaceAll(m.File.Text, "\r\n", "\n"), "\n"),
	}
	if m.Sheet != nil && m.Sheet.Name != "" {
		t.Name = m.Sheet.Name
	}
	if sampled != nil {
		t.Moves = tellMotion(m, sampled)
		t.Model = tellModel(m, sampled)
		t.Rows = rowsOf(m)
		t.Strips = stripsOf(m, sampled)
	}
	return t
}

func tellFindings(s *Sheet) []toldFinding {
	out := []toldFinding{}
	for _, f := range s.Findings() {
		line, ok := s.Motion.File.LineNumber(f.At)
		if !ok {
			line = 0
		}
		out = append(out, toldFinding{Line: line, Level: f.Level.String(), Rule: f.Rule, Message: f.Message})
	}
	return out
}

func tellMotion(m *motion.Motion, sampled *motion.Sampled) *toldMotion {
	body, sheet := draw.NewBody(m.Rig), m.Sheet
	t := &toldMotion{
		Rate: sheet.Rate.Float(), Beat: sheet.Beat.Float(), Length: sheet.Length.Float(), Phase: sheet.Phase.Float(),
		Closed: sheet.Closed, View: sheet.View, Height: body.Height, Joints: len(m.Rig.Joints),
		Count: sampled.Count, Step: sampled.Step, Places: places(m, body, sampled),
		Spots: []string{}, Bones: []toldBone{}, Feet: []toldFoot{},
	}
	for _, spot := range body.Points {
		t.Spots = append(t.Spots, spot.Name)
	}
	for _, bone := range body.Limbs {
		t.Bones = append(t.Bones, toldBone{
			From: bone.From, To: bone.To, R0: bone.R0, R1: bone.R1, Ink: bone.Side.Name(), Group: int(bone.Group), Over: bone.Over, Eye: bone.Eye,
		})
	}
	for _, foot := range body.Feet {
		told := toldFoot{Heel: foot.Heel, Toe: foot.Toe, Planted: planted(m, foot.Joint, sampled)}
		t.Feet = append(t.Feet, told)
	}
	return t
}

// planted tells at which samples a joint stands on the ground.
func planted(m *motion.Motion, joint int, sampled *motion.Sampled) string {
	out := make([]byte, sampled.Count)
	for i := range out {
		out[i] = '0'
		for k := range m.Plants {
			if p := &m.Plants[k]; p.Joint == joint && p.On < 0 && p.Holds(sampled.Time(i), sampled.Closed) {
				out[i] = '1'
			}
		}
	}
	return string(out)
}

// places are where the spots of a body are at each sample.
func places(m *motion.Motion, body *draw.Body, sampled *motion.Sampled) string {
	bytes := make([]byte, 0, sampled.Count*len(body.Points)*12)
	player := m.Player()
	var spots [][3]float64
	for i := range sampled.Count {
		spots = body.Places(player.Figure(sampled.Time(i)).World, spots)
		for _, at := range spots {
			for _, v := range at {
				bytes = binary.LittleEndian.AppendUint32(bytes, math.Float32bits(float32(v)))
			}
		}
	}
	return base64.StdEncoding.EncodeToString(bytes)
}

// rowsOf are the rows with a time that stand in the sheet's own file.
func rowsOf(m *motion.Motion) []toldRow {
	out := []toldRow{}
	for _, b := range m.File.Blocks {
		if b.Kind != grammar.TrackBlock && b.Kind != grammar.BlockingBlock && b.Kind != grammar.AmendBlock {
			continue
		}
		column := b.ColumnIndex("at")
		opens, ok := m.File.LineNumber(b.RefLine(b.Open))
		if column < 0 || !ok {
			continue
		}
		for i := range b.Rows() {
			l := &b.Lines[i]
			if column >= len(l.Cells) {
				continue
			}
			written, ok := grammar.ParseTime(l.CellText(column))
			line, here := m.File.LineNumber(b.RefLine(i))
			if ok && here {
				out = append(out, toldRow{line, opens, written.In(m.Sheet.Rate, m.Sheet.Beat).Float(), m.Sheet.RoundOf(b).Float()})
			}
		}
	}
	return out
}

func stripsOf(m *motion.Motion, sampled *motion.Sampled) []toldStrip {
	out := []toldStrip{}
	length := m.Sheet.Length.Float()
	for i := range m.Channels {
		c := &m.Channels[i]
		if !c.Moves() {
			continue
		}
		s := toldStrip{Path: c.Dial.Path, Unit: c.Dial.Unit, Positive: c.Dial.Positive, Ink: draw.InkOf(c.Dial).Name(), Rest: c.Dial.Rest, Keys: []toldKey{}}
		for _, v := range sampled.Channel(i).Samples {
			s.Values = append(s.Values, rounded(v))
		}
		if sampled.Closed {
			s.Values = append(s.Values, rounded(c.At(length-1e-4)))
		}
		s.Late, s.Jump = draw.SeamJump(c, length)
		for _, key := range draw.KeysOf(c, length) {
			line, ok := m.File.LineNumber(key.At)
			if !ok {
				line = -1
			}
			s.Keys = append(s.Keys, toldKey{rounded(key.Frames), rounded(key.Value), line})
		}
		out = append(out, s)
	}
	return out
}

// rounded keeps five decimals, a tenth of what any limit asks for.
func rounded(v float64) float64 { return math.Round(v*1e5) / 1e5 }

// toldFamily is every member that has a motion, and how far they are apart.
type toldFamily struct {
	Members   []toldMember `json:"members"`
	Distances [][]float64  `json:"distances"` // shares of the base's motion, row by row in the members' order; -1 where it can't be told
}

type toldMember struct {
	Name  string      `json:"name"`
	Path  string      `json:"path"`
	Moves *toldMotion `json:"motion"`
}

func tellFamily(sheets []Sheet) *toldFamily {
	t := &toldFamily{Members: []toldMember{}, Distances: [][]float64{}}
	var alike []*motion.Likeness
	base := 0.0 // the motion of the first cycle that is made from no other, or else of the first one
	fromNone := false
	for i := range sheets {
		m := sheets[i].Motion
		if !m.Whole() {
			continue
		}
		likeness := m.Likeness()
		if likeness != nil && (base == 0 || !fromNone && m.Base == nil) {
			base, fromNone = likeness.MotionRMS(), m.Base == nil
		}
		alike = append(alike, likeness)
		t.Members = append(t.Members, toldMember{m.Sheet.Name, sheets[i].Path, tellMotion(m, m.SampledByFrame())})
	}
	for _, row := range motion.Distances(alike) {
		shares := make([]float64, len(row))
		for k := range row {
			if share := row[k].RMS / base; base > 0 && !math.IsInf(share, 0) {
				shares[k] = rounded(share)
			} else {
				shares[k] = -1 // can't be told
			}
		}
		t.Distances = append(t.Distances, shares)
	}
	return t
}
