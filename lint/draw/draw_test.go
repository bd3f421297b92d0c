package draw

import (
	"bytes"
	"encoding/xml"
	"errors"
	"image/png"
	"io"
	"os"
	"path"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint"
	"github.com/motet-sheet/motet/lint/motion"
)

// cast are the twelve of the demo.
var cast = []string{
	"apprentice", "catfeeder", "chandler", "clerk", "cooper", "eelcatcher", "ferrier", "keeper", "netmender", "pilot", "ropewalker", "tallywoman",
}

// resolve works out a sheet of testdata.
func resolve(t testing.TB, name string) *motion.Motion {
	t.Helper()
	trees := func(name string) (*grammar.File, error) {
		text, err := os.ReadFile(filepath.Join("../../testdata", filepath.FromSlash(name)))
		if err != nil {
			return nil, err
		}
		return grammar.Parse(name, string(text)), nil
	}
	file, err := trees(path.Clean(name))
	require.NoError(t, err)
	m := motion.NewProject(trees).Resolve(file)
	require.True(t, m.Whole(), name)
	return m
}

func channels(m *motion.Motion, paths ...string) []*motion.Channel {
	var out []*motion.Channel
	for _, p := range paths {
		out = append(out, m.Channel(p))
	}
	return out
}

// found are the findings of a few rules, so that a new rule changes no picture.
func found(m *motion.Motion) []lint.Finding {
	return lint.CheckOnly(m, []*lint.Rule{lint.RuleNamed("seam-gap"), lint.RuleNamed("off-beat"), lint.RuleNamed("off-frame")})
}

// pictures are one of each kind, on sheets that have something to show.
func pictures(t testing.TB) map[string]*Picture {
	keeper, slips := resolve(t, "quay/keeper.motet"), resolve(t, "draw/slips.motet")
	return map[string]*Picture{
		"curves": Curves(keeper, CurveOptions{Channels: channels(keeper, "hips/side", "eyes/side", "arm.left/swing", "arm.right/swing")}),
		"slips": Curves(slips, CurveOptions{
			Channels: channels(slips, "hips/side", "hips/drop", "eyes/side", "head/turn"), Findings: found(slips),
		}),
		"against": Curves(keeper, CurveOptions{Channels: channels(keeper, "head/turn", "hips/side"), Against: resolve(t, "quay/tallywoman.motet")}),
		"figure":  Figure(keeper, FigureOptions{Frames: 18, Views: Views("round"), Height: 260, Arcs: []int{keeper.Rig.JointIndex("head")}}),
		"poses":   Poses(keeper, Front(), 180, 6),
		"leads":   LeadChart(keeper, "hips"),
		"contact": Contact([]*motion.Motion{keeper, resolve(t, "quay/apprentice.motet"), resolve(t, "quay/glances/keeper-gull.motet")}, ContactOptions{Title: "three of the quay", Height: 110, Width: 420}),
	}
}

// TestPicturesAreAsTheyWere compares each kind of picture with testdata/draw; MOTET_UPDATE=1 writes it anew. Look at what
// changed before you commit it.
func TestPicturesAreAsTheyWere(t *testing.T) {
	for name, p := range pictures(t) {
		for kind, scheme := range map[string]Scheme{"": Light(), "-dark": Dark()} {
			if kind != "" && name != "slips" {
				continue
			}
			var got bytes.Buffer
			require.NoError(t, p.SVG(&got, scheme))
			golden(t, name+kind+".svg", got.Bytes())
		}
	}
}

func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	file := filepath.Join("../../testdata/draw", name)
	if os.Getenv("MOTET_UPDATE") != "" {
		require.NoError(t, os.WriteFile(file, got, 0o666))
		return
	}
	want, err := os.ReadFile(file)
	require.NoError(t, err)
	assert.Equal(t, string(want), string(got), "%s; MOTET_UPDATE=1 go test ./lint/draw writes it anew", name)
}

// TestSVGIsXML reads each picture with the standard library's parser, and asks for its title.
func TestSVGIsXML(t *testing.T) {
	for name, p := range pictures(t) {
		p.Title += ` <&"'>`
		var out bytes.Buffer
		require.NoError(t, p.SVG(&out, Light()))
		decoder, elements, title := xml.NewDecoder(&out), 0, ""
		for {
			token, err := decoder.Token()
			if errors.Is(err, io.EOF) {
				break
			}
			require.NoError(t, err, name)
			if start, ok := token.(xml.StartElement); ok {
				if elements++; start.Name.Local == "title" && title == "" {
					require.NoError(t, decoder.DecodeElement(&title, &start))
				}
			}
		}
		assert.Equal(t, p.Title, title, name)
		assert.Greater(t, elements, 10, name)
	}
}

func TestPNGHasThePictureSize(t *testing.T) {
	for name, p := range pictures(t) {
		var out bytes.Buffer
		require.NoError(t, p.PNG(&out, Dark(), 0.5))
		img, err := png.Decode(&out)
		require.NoError(t, err, name)
		assert.InDelta(t, p.Width/2, img.Bounds().Dx(), 1, name)
		assert.InDelta(t, p.Height/2, img.Bounds().Dy(), 1, name)
		r, g, b, _ := img.At(0, 0).RGBA()
		paper := Dark()[Paper]
		assert.Equal(t, [3]uint32{uint32(paper.R), uint32(paper.G), uint32(paper.B)}, [3]uint32{r >> 8, g >> 8, b >> 8}, name)
	}
}

func TestAHugePictureIsMadeSmaller(t *testing.T) {
	if testing.Short() {
		t.Skip("64 million pixels, one after the other")
	}
	p := &Picture{Width: 200_000, Height: 2}
	p.line(Strong, 1, Point{0, 1}, Point{200_000, 1})
	var out bytes.Buffer
	require.NoError(t, p.PNG(&out, Light(), 1000))
	config, err := png.DecodeConfig(&out)
	require.NoError(t, err)
	assert.LessOrEqual(t, config.Width*config.Height, mostPixels+config.Width+config.Height)
}

// TestWordsDontOverlap lays a box round all words, as the Go fonts set them, in pictures of every member of the cast.
func TestWordsDontOverlap(t *testing.T) {
	all := pictures(t)
	for _, who := range cast {
		m := resolve(t, "quay/"+who+".motet")
		all[who+" poses"] = Poses(m, Front(), 180, 6)
		all[who+" figure"] = Figure(m, FigureOptions{Views: Views("round"), Height: 200})
		all[who+" leads"] = LeadChart(m, "hips")
		var some []*motion.Channel
		for i := range m.Channels {
			if m.Channels[i].Moves() && len(some) < 12 {
				some = append(some, &m.Channels[i])
			}
		}
		all[who+" curves"] = Curves(m, CurveOptions{Channels: some, Findings: lint.Check(m)})
	}
	var everybody []*motion.Motion
	for _, who := range cast {
		everybody = append(everybody, resolve(t, "quay/"+who+".motet"))
	}
	all["everybody"] = Contact(everybody, ContactOptions{Title: "quay", Height: 90, Width: 700})
	all["everybody, narrow"] = Contact(everybody, ContactOptions{Title: "quay", View: "side", Height: 40, Width: 10})
	for name, p := range all {
		boxes := wordBoxes(t, p)
		require.NotEmpty(t, boxes, name)
		for i, a := range boxes {
			assert.True(t, a.left >= -0.5 && a.right <= p.Width+0.5, "%s: %q is cut off", name, a.text)
			for _, b := range boxes[i+1:] {
				apart := a.right <= b.left+0.5 || b.right <= a.left+0.5 || a.bottom <= b.top+0.5 || b.bottom <= a.top+0.5
				assert.True(t, apart, "%s: %q and %q overlap", name, a.text, b.text)
			}
		}
	}
}

type wordBox struct {
	text                     string
	left, right, top, bottom float64
}

func wordBoxes(t *testing.T, p *Picture) []wordBox {
	var out []wordBox
	for _, m := range p.Marks {
		if m.Kind != Words {
			continue
		}
		face, err := openFace(m.Bold, m.Size*8)
		require.NoError(t, err)
		wide := 0.0
		for _, r := range m.Text {
			advance, ok := face.GlyphAdvance(r)
			require.True(t, ok, "the font has %q", r)
			wide += float64(advance) / 64 / 8
		}
		x := m.At[0].X - wide*float64(m.Anchor)/2
		out = append(out, wordBox{m.Text, x, x + wide, m.At[0].Y - 0.72*m.Size, m.At[0].Y + 0.1*m.Size})
	}
	return out
}

func TestTextForATerminal(t *testing.T) {
	slips := resolve(t, "draw/slips.motet")
	var out bytes.Buffer
	o := CurveOptions{Channels: channels(slips, "hips/side", "eyes/side", "head/turn"), Findings: found(slips)}
	require.NoError(t, CurvesText(&out, slips, o, 72))
	golden(t, "slips.txt", out.Bytes())
	out.Reset()
	require.NoError(t, Figure(slips, FigureOptions{Views: Views("front"), Height: 200}).Text(&out, 40))
	golden(t, "figure.txt", out.Bytes())
	out.Reset()
	require.NoError(t, LeadsText(&out, resolve(t, "quay/keeper.motet"), "spine", 60))
	golden(t, "leads.txt", out.Bytes())
	for _, line := range strings.Split(out.String(), "\n") {
		assert.LessOrEqual(t, utf8.RuneCountInString(line), 60)
	}
}
