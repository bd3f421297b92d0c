package server

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"github.com/motet-sheet/motet/grammar"
	"go.lsp.dev/jsonrpc2"
	"go.lsp.dev/protocol"
	"go.lsp.dev/uri"
)

// prepareRename tells which name would be renamed, or why none can be.
func (s *session) prepareRename(_ context.Context, snap snapshot, params *protocol.PrepareRenameParams) (any, error) {
	about, ok := mentionAt(snap.tree(), snap.offsetOf(params.Position))
	switch {
	case !ok:
		return nil, nil
	case about.covers && !literal(about):
		return nil, refused("`%s` covers several names; rename one of them where it stands alone", about.at.Text())
	}
	return &protocol.PrepareRenamePlaceholder{Range: snap.rangeOfRef(about.at), Placeholder: about.at.Text()}, nil
}

// rename gives a thing another name wherever the project names it, so that every sheet moves as before; only what a
// quiver draws from the names of its channels becomes another tremor of the same kind.
func (s *session) rename(_ context.Context, snap snapshot, params *protocol.RenameParams) (any, error) {
	about, ok := mentionAt(snap.tree(), snap.offsetOf(params.Position))
	if !ok {
		return nil, refused("no name stands here that could be renamed")
	}
	edits, err := renaming(snap.kin(), snap.tree(), about, params.NewName)
	if err != nil {
		return nil, err
	}
	changes := map[uri.URI][]protocol.TextEdit{}
	for _, p := range edits {
		place := snap.location(p.placed)
		changes[place.URI] = append(changes[place.URI], protocol.TextEdit{Range: place.Range, NewText: p.text})
	}
	return s.workspaceEdit(snap, changes), nil
}

// refused is the answer to a request that can't be done, for the user to read.
func refused(format string, args ...any) error {
	return jsonrpc2.Errorf(jsonrpc2.Code(protocol.LSPErrorCodesRequestFailed), format, args...)
}

// literal tells whether a mention that covers several names still writes its own part out: `swing` in `arm.*/swing`.
func literal(m mention) bool {
	return m.kind == channelName && !strings.Contains(m.at.Text(), "*")
}

// renamed is a place and what is written there.
type renamed struct {
	placed
	text string
}

// renaming are the places that change when what a mention in f is about gets another name.
func renaming(k *kin, f *grammar.File, about mention, to string) ([]renamed, error) {
	if about.covers && !literal(about) {
		return nil, refused("`%s` covers several names; rename one of them where it stands alone", about.at.Text())
	}
	if grammar.Classify(to) != grammar.Word || about.kind == channelName && (to == "at" || to == "ease") {
		return nil, refused("`%s` is no name for a %s; a name is one word that begins with a letter", to, about.kind)
	}
	if about.kind == morphName {
		return renamingMorph(f, about, to)
	}
	if about.kind == sheetName || about.kind == rigName {
		var out []renamed
		for _, p := range k.same(f, about) {
			out = append(out, renamed{p, to})
		}
		return out, nil
	}
	r := &renamer{kind: about.kind, names: map[string]string{}}
	for _, file := range k.of(f, about.kind, about.key) {
		for _, m := range mentions(file) {
			if m.kind == r.kind {
				r.all = append(r.all, placed{m, file})
			}
		}
	}
	if err := r.choose(about, to); err != nil {
		return nil, err
	}
	return r.places()
}

// renamer is the renaming of one name, and of those that only make sense with it.
type renamer struct {
	kind  nameKind
	all   []placed          // mentions of the kind in all files that share it
	names map[string]string // the new name of each that changes; of channels the part behind the stroke, by the whole path
}

// known are the names of the kind that are written out anywhere.
func (r *renamer) known() []string {
	var out []string
	for _, p := range r.all {
		if !p.covers && !slices.Contains(out, p.key) {
			out = append(out, p.key)
		}
	}
	return out
}

// choose finds the names that change together: both sides of a pair, and all channels that one line speaks of.
func (r *renamer) choose(about mention, to string) error {
	known := r.known()
	add := func(key, to string) {
		if slices.Contains(known, key) {
			r.names[key] = to
		}
	}
	for _, key := range known {
		if about.means(key) {
			add(key, to)
		}
	}
	switch r.kind {
	case bodyName:
		if other, from := otherSide(about.key); other != "" {
			otherTo, toSide := otherSide(grammar.NameKey(to))
			if slices.Contains(known, other) && toSide != from {
				return refused("`%s` and `%s` are a pair by their names; let the new name end in `%s` too", about.key, other, from)
			}
			add(other, otherTo)
		} else if side, ending := otherSide(grammar.NameKey(to)); slices.Contains(known, side) {
			return refused("`%s` would make a pair with `%s`; let the new name end otherwise than in `%s`", to, side, ending)
		}
	case channelName:
		r.spread(to)
	}
	for key := range r.names {
		if after := r.after(key); slices.Contains(known, after) && r.names[after] == "" {
			return refused("there is a %s `%s` already; choose another name", r.kind, after)
		}
	}
	return nil
}

// spread renames a channel in all controls that must have it under one name: the other side of a pair, and those that a
// line with a pattern speaks of together.
func (r *renamer) spread(to string) {
	known := r.known()
	for again := true; again; {
		again = false
		add := func(key string) {
			if slices.Contains(known, key) && r.names[key] == "" {
				r.names[key], again = to, true
			}
		}
		for _, key := range known {
			if r.names[key] == "" {
				continue
			}
			control, channel, _ := strings.Cut(key, "/")
			if other, _ := otherSide(control); other != "" {
				add(other + "/" + channel)
			}
			for _, p := range r.all {
				if p.covers && literal(p.mention) && p.means(key) {
					for _, also := range known {
						if p.means(also) {
							add(also)
						}
					}
				}
			}
		}
	}
}

// otherSide is the name of the other one of a pair, and the ending that tells the sides apart; empty where there is none.
func otherSide(name string) (other, ending string) {
	if stem, ok := strings.CutSuffix(name, ".left"); ok {
		return stem + ".right", ".left"
	}
	if stem, ok := strings.CutSuffix(name, ".right"); ok {
		return stem + ".left", ".right"
	}
	return "", ""
}

// after is a name as it will be.
func (r *renamer) after(key string) string {
	to, changes := r.names[key]
	switch {
	case !changes:
		return key
	case r.kind == channelName:
		control, _, _ := strings.Cut(key, "/")
		return control + "/" + grammar.NameKey(to)
	}
	return grammar.NameKey(to)
}

// places are the mentions that change. A pattern must cover the same names as before, since it is not changed itself.
func (r *renamer) places() ([]renamed, error) {
	var out []renamed
	known := r.known()
	for _, p := range r.all {
		if to, ok := r.names[p.key]; ok && !p.covers {
			out = append(out, renamed{p, to})
			continue
		}
		if !p.covers {
			continue
		}
		pattern := p.key
		for key, to := range r.names {
			if literal(p.mention) && p.means(key) {
				control, _, _ := strings.Cut(p.key, "/")
				pattern = control + "/" + grammar.NameKey(to)
				out = append(out, renamed{p, to})
				break
			}
		}
		for _, key := range known {
			if after := r.after(key); p.means(key) != grammar.MatchPattern(pattern, after) {
				return nil, refused("%s", r.lost(p, key, after))
			}
		}
	}
	return out, nil
}

func (r *renamer) lost(p placed, key, after string) string {
	line, _ := p.in.LineNumber(p.at)
	what := "would no longer cover"
	if !p.means(key) {
		what = "would cover"
	}
	return fmt.Sprintf("`%s` in %s line %d %s `%s`; choose another name, or change the pattern first", p.at.Text(), p.in.Path, line+1, what, after)
}
