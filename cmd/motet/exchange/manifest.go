package exchange

import (
	"encoding/json"
	"fmt"

	"github.com/motet-sheet/motet/lint/motion"
)

// ManifestFormat names the form of the manifest that is written beside exported clips. Its JSON names are kept stable.
const ManifestFormat = "motet-manifest-1"

// A Manifest tells an engine or a build of exported clips all that it would otherwise ask the animator.
type Manifest struct {
	Format string         `json:"format"`
	Clips  []ManifestClip `json:"clips"`

	person func(name string) (who, clip string, ok bool)
}

// A ManifestClip tells of one clip. Times are seconds from the clip's start.
type ManifestClip struct {
	// Person and Clip are the two parts of the sheet's name where a family says how names are made; Person is empty
	// where none does, and Clip the whole name then.
	Person string `json:"person,omitempty"`
	Clip   string `json:"clip"`
	// Name is the animation's name in File, a path from the manifest's folder.
	Name string `json:"name"`
	File string `json:"file"`
	// Sheet, Hash, Rate, Tempo, Beats, Frames and Seconds are as in the extras of the animation.
	Sheet   string       `json:"sheet"`
	Hash    string       `json:"hash"`
	Sources []ClipSource `json:"sources,omitempty"`
	Rate    string       `json:"rate"`
	Tempo   float64      `json:"tempo"`
	Beats   float64      `json:"beats"`
	Frames  float64      `json:"frames"`
	Seconds float64      `json:"seconds"`
	// Plays is "loop", or "once" for a span.
	Plays string `json:"plays"`
	// Leaves and Rejoins say where a span sets off from an idle, and where it comes back.
	Leaves  *ManifestJoin `json:"leaves,omitempty"`
	Rejoins *ManifestJoin `json:"rejoins,omitempty"`
	// Phase is where a player that shows several members together should begin.
	Phase float64 `json:"phase"`
	Root  Root    `json:"root"`
	// Contacts are when a goal or a joint stays where it is, in the world or on a joint.
	Contacts []Contact `json:"contacts,omitempty"`
	Opening  Opening   `json:"opening"`
	Budget   Budget    `json:"budget"`
}

// A ManifestJoin is a moment of an idle.
type ManifestJoin struct {
	Idle string  `json:"idle"`
	At   float64 `json:"at"`
}

// Root is what a clip does with the character's place.
type Root struct {
	Joint string `json:"joint"`
	// Policy is "in-place" where the clip ends where it began, and "advances" where it gains a way each round, which a
	// player that loops it must add up.
	Policy string `json:"policy"`
	// Advance is what each channel gains a round, in its unit.
	Advance map[string]float64 `json:"advance,omitempty"`
}

// A Contact is a stretch of time. It may reach over the end of a loop.
type Contact struct {
	What string  `json:"what"`
	From float64 `json:"from"`
	To   float64 `json:"to"`
	On   string  `json:"on,omitempty"`
}

// Opening is the first moment: the pose that the blocking has there, if any, and the value of every channel that is not
// at rest, in its unit.
type Opening struct {
	Pose   string             `json:"pose,omitempty"`
	Values map[string]float64 `json:"values"`
}

// Budget is what a clip costs. Bytes are those of the file, which may hold other clips too.
type Budget struct {
	Keys   int `json:"keys"`
	Joints int `json:"movingJoints"`
	Bytes  int `json:"bytes"`
}

// NewManifest begins a manifest. person takes a sheet's name apart, as a family does.
func NewManifest(person func(name string) (who, clip string, ok bool)) *Manifest {
	return &Manifest{Format: ManifestFormat, Clips: []ManifestClip{}, person: person}
}

// Add tells of one clip in a file of so many bytes.
func (f *Manifest) Add(t *Take, file string, size int) {
	m := t.Motion
	s, note := m.Sheet, t.Note()
	rate := s.Rate.Float()
	clip := ManifestClip{
		Clip: s.Name, Name: t.Name, File: file, Sheet: note.File, Hash: note.Hash, Sources: note.Sources,
		Rate: note.Rate, Tempo: note.Tempo, Beats: note.Beats, Frames: note.Frames, Seconds: note.Seconds,
		Plays: "once", Phase: tidy6(s.Phase.Float() / rate), Root: rootOf(m),
		Opening: Opening{Values: map[string]float64{}},
		Budget:  Budget{Keys: t.Keys, Joints: t.Joints, Bytes: size},
	}
	if who, what, ok := f.person(s.Name); ok {
		clip.Person, clip.Clip = who, what
	}
	if s.Closed {
		clip.Plays = "loop"
	}
	for i := range m.Joins {
		join := joinOf(&m.Joins[i])
		if m.Joins[i].Word == "leaves" {
			clip.Leaves = join
		} else {
			clip.Rejoins = join
		}
	}
	for i := range m.Plants {
		p := &m.Plants[i]
		contact := Contact{What: p.Goal, From: tidy6(p.From / rate), To: tidy6(p.To / rate)}
		if p.On >= 0 {
			contact.On = m.Rig.Joints[p.On].Name
		}
		clip.Contacts = append(clip.Contacts, contact)
	}
	for _, accent := range m.Plain {
		if accent.Time.Sign() == 0 {
			clip.Opening.Pose = accent.Pose
		}
	}
	for i := range m.Channels {
		if v := tidy6(m.Channels[i].At(0)); v != m.Channels[i].Dial.Rest {
			clip.Opening.Values[m.Channels[i].Dial.Path] = v
		}
	}
	f.Clips = append(f.Clips, clip)
}

func rootOf(m *motion.Motion) Root {
	root := Root{Policy: "in-place"}
	for i := range m.Rig.Joints {
		if m.Rig.Joints[i].Part == "root" || root.Joint == "" && m.Rig.Joints[i].Parent < 0 {
			root.Joint = m.Rig.Joints[i].Name
		}
	}
	for path, gain := range m.Sheet.Advance {
		if gain != 0 {
			root.Policy = "advances"
			if root.Advance == nil {
				root.Advance = map[string]float64{}
			}
			root.Advance[path] = gain
		}
	}
	return root
}

// joinOf is where a span meets its idle; nil where the idle can't be found, which a check reports.
func joinOf(j *motion.Join) *ManifestJoin {
	idle, when := j.Idle()
	if idle == nil || idle.Sheet == nil {
		return nil
	}
	return &ManifestJoin{Idle: idle.Sheet.Name, At: tidy6(when / idle.Sheet.Rate.Float())}
}

// Text is the manifest as it is written.
func (f *Manifest) Text() ([]byte, error) {
	text, err := json.MarshalIndent(f, "", "  ")
	if err != nil {
		return nil, fmt.Errorf("writing the manifest: %w", err)
	}
	return append(text, '\n'), nil
}
