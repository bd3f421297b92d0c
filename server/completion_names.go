package server

import (
	"path/filepath"
	"slices"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"go.lsp.dev/protocol"
)

// alternatives are header lines that say the same thing, so that one is enough.
var alternatives = map[string]string{"tempo": "beat", "beat": "tempo", "cycle": "span", "span": "cycle"}

// lines are the lines that a block's body may have; those that stand once and are there already are left out.
func (a *asking) lines(info *grammar.BlockInfo) []candidate {
	there := map[string]bool{}
	for i := range a.block.Lines {
		word := a.block.Lines[i].FirstWord()
		if i != a.number && word != "" {
			there[word] = true
		}
	}
	var out []candidate
	for _, kind := range info.Lines {
		switch {
		case kind.Word == "":
			out = append(out, a.next(info, kind)...)
			continue
		case info.Kind != grammar.ChangeBlock && kind.Word != "advance" && (there[kind.Word] || there[alternatives[kind.Word]]):
			continue
		}
		_, snippet := sample(usageWays(kind)[0])
		out = append(out, candidate{
			label: kind.Word, kind: protocol.CompletionItemKindKeyword, detail: kind.Usage, snippet: snippet, plain: kind.Word + " ",
		})
	}
	return out
}

// next are what may come behind the atoms of a line.
func (a *asking) next(info *grammar.BlockInfo, kind grammar.LineKindInfo) []candidate {
	if kind.Word == "each" {
		return a.clips() // as many as one likes
	}
	var out []candidate
	for _, parts := range nextParts(kind, a.atoms, a.line) {
		if parts[0].isName() {
			out = append(out, a.namesFor(info, kind, parts[0].text)...)
			continue
		}
		if parts[0].text == "VALUE" && info.Kind == grammar.PoseBlock {
			out = append(out, a.poseValues()...)
		}
		if strings.HasPrefix(parts[0].text, `"`) && info.Kind != grammar.FamilyBlock {
			out = append(out, a.fileNames()...)
			continue
		}
		if strings.HasPrefix(parts[0].text, `"`) && info.Kind == grammar.FamilyBlock {
			out = append(out, a.familyStrings(kind.Word)...)
			continue
		}
		// A word that stands for itself is offered with what it can't be without.
		plain, snippet := sample(parts)
		c := candidate{label: plain, kind: protocol.CompletionItemKindKeyword, detail: kind.Usage, snippet: snippet}
		switch {
		case parts[0].hole:
			c.kind = protocol.CompletionItemKindValue
		case 1 < len(parts) && parts[1].isName():
			c.label, c.plain, c.snippet = parts[0].text, parts[0].text+" ", ""
		}
		out = append(out, c)
	}
	return out
}

// namesFor are the names that may stand for a part of a usage.
func (a *asking) namesFor(info *grammar.BlockInfo, kind grammar.LineKindInfo, part string) []candidate {
	switch part {
	case "CONTROL":
		controls := a.controls()
		if kind.Word == "track" || kind.Word == "amend" || kind.Word == "without" && a.atom(len(a.atoms)-1) == "track" {
			return controls
		}
		out := append(controls, a.patterns()...)
		if info.Kind == grammar.ChangeBlock && kind.Word != "delay" {
			out = append(out, a.channels("")...)
		}
		return out
	case "CONTROL/CHANNEL":
		out := a.channels("")
		if info.Kind != grammar.PoseBlock && kind.Word != "advance" {
			for _, p := range a.patterns() {
				for _, channel := range a.sight().channelsOf(p.label) {
					path := p
					path.label += "/" + channel
					out = append(out, path)
				}
			}
		}
		return out
	case "CHANNEL":
		return a.followed()
	case "LEADER":
		return a.controls()
	case "LAYER":
		return a.declared(layerName)
	case "POSE", "OTHER":
		return a.declared(poseName)
	case "IDLE":
		return a.linkable(grammar.SheetBlock)
	case "GOAL", "JOINT":
		return a.declared(bodyName)
	case "NAME":
		return a.named(info, kind)
	}
	return nil
}

// named are the names for a line that names a thing, by the word before the name.
func (a *asking) named(info *grammar.BlockInfo, kind grammar.LineKindInfo) []candidate {
	if len(a.atoms) == 0 {
		return nil // an easing's own name
	}
	switch word := a.atom(len(a.atoms) - 1); {
	case word == "rig" && info.Kind == grammar.SheetBlock && kind.Word == "rig" && a.atoms[0].Span.Start > 0:
		return a.linkable(grammar.RigBlock)
	case word == "from" && kind.Word == "from":
		return a.linkable(grammar.SheetBlock)
	case word == "layer":
		return a.declared(layerName)
	case word == "quiver":
		return a.declared(quiverName)
	case word == "breath":
		return a.declared(breathName)
	case word == "pose":
		return a.declared(poseName)
	}
	return nil
}

func (a *asking) declared(kind nameKind) []candidate {
	var out []candidate
	for _, name := range a.sight().declared(kind) {
		out = append(out, candidate{label: name, kind: protocol.CompletionItemKindReference, detail: kind.String(), names: kind.String()})
	}
	return out
}

func (a *asking) controls() []candidate {
	var out []candidate
	for _, control := range a.sight().controls() {
		out = append(out, candidate{
			label: control, kind: protocol.CompletionItemKindVariable, names: bodyName.String(),
			detail: strings.Join(a.sight().channelsOf(control), " "),
		})
	}
	return out
}

// channelsOf are the names of a control's channels, or of all whose controls fit a pattern, each once.
func (s *sight) channelsOf(pattern string) []string {
	var out []string
	for _, d := range s.dials() {
		control, channel, _ := strings.Cut(d.path, "/")
		if grammar.MatchPattern(pattern, control) && !slices.Contains(out, channel) {
			out = append(out, channel)
		}
	}
	return out
}

// patterns are those that stand for several controls: what stands before the point in the names of more than one.
func (a *asking) patterns() []candidate {
	count := map[string]int{}
	var order []string
	for _, control := range a.sight().controls() {
		if stem, _, parted := strings.Cut(control, "."); parted {
			if count[stem]++; count[stem] == 2 {
				order = append(order, stem+".*")
			}
		}
	}
	var out []candidate
	for _, p := range order {
		out = append(out, candidate{label: p, kind: protocol.CompletionItemKindVariable, detail: "all of them", names: bodyName.String()})
	}
	return out
}

// channels are the paths of channels, those of one control where it is named.
func (a *asking) channels(control string) []candidate {
	var out []candidate
	for _, d := range a.sight().dials() {
		if of, _, _ := strings.Cut(d.path, "/"); control == "" || of == control {
			out = append(out, candidate{
				label: d.path, kind: protocol.CompletionItemKindField, detail: d.tells(), names: channelName.String(),
			})
		}
	}
	return out
}

// tells says what a channel counts, how far it goes and which way is plus.
func (d *dialRow) tells() string {
	out := strings.TrimSpace(d.unit + " " + d.limits)
	if d.positive != "" {
		out += ", plus is “" + d.positive + "”"
	}
	return out
}

// followed are the channels for a line of a follow: the leader's behind `of`, its followers' elsewhere.
func (a *asking) followed() []candidate {
	follow, ok := a.block.Opener.(*grammar.FollowLine)
	if !ok {
		return nil
	}
	of := grammar.NameKey(follow.Followers.Text)
	if n := len(a.atoms); 0 < n && a.atom(n-1) == "of" {
		of = follow.Leader.Key()
	}
	return a.channelNames(of, nil)
}

// channelNames are the channels of the controls that fit a pattern, by their names alone, without some.
func (a *asking) channelNames(pattern string, without []string) []candidate {
	var out []candidate
	for _, name := range a.sight().channelsOf(pattern) {
		if slices.Contains(without, name) {
			continue
		}
		c := candidate{label: name, kind: protocol.CompletionItemKindField}
		for _, d := range a.sight().dials() {
			if control, channel, _ := strings.Cut(d.path, "/"); channel == name && grammar.MatchPattern(pattern, control) {
				c.detail = d.tells()
				break
			}
		}
		out = append(out, c)
	}
	return out
}

// linkable are the sheets or the rigs of the project, each with the file that it is in.
func (a *asking) linkable(kind grammar.BlockKind) []candidate {
	var out []candidate
	look := newLookout(a.snap.document, a.snap.world)
	for _, path := range a.snap.project() {
		if path == a.snap.name {
			continue
		}
		tree, err := look.tree(path)
		if err != nil {
			continue
		}
		b := tree.First(kind)
		if b == nil {
			continue
		}
		for _, m := range blockMentions(nil, b) {
			if m.declares && (m.kind == sheetName || m.kind == rigName) {
				text := m.key + ` in "` + a.relative(path) + `"`
				out = append(out, candidate{label: text, kind: protocol.CompletionItemKindModule, detail: m.kind.String()})
			}
		}
	}
	return out
}

// relative is a file's name as this document writes it.
func (a *asking) relative(path string) string {
	rel, err := filepath.Rel(filepath.Dir(filepath.FromSlash(a.snap.name)), filepath.FromSlash(path))
	if err != nil {
		return path
	}
	return filepath.ToSlash(rel)
}
