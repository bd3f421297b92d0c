package exchange

import (
	"fmt"
	"maps"
	"slices"
	"strings"
)

// A union brings the joints of several files together that show one figure: nodes are the same where they and all that
// carries them are called the same.
type union struct {
	// docs are the files, as copies that have the nodes added that they lack.
	docs []*Document
	// lead is the file with the most joints. The rig is made of it.
	lead *Document
	// bones are the joints by file, in the lead's order. What a file lacks is added to its nodes, as the lead has it, and
	// is absent.
	bones map[*Document][]joint
	// foreign are the nodes by file that the lead has not.
	foreign map[*Document]map[int]bool

	ids map[nodeKey]int
}

// A nodeKey names a node among those that one node carries.
type nodeKey struct {
	carrier int
	name    string
	nth     int // of that name
}

// unite brings files together, of which these clips are to be imported. The order of the files stays.
func unite(docs []*Document, clips map[*Document][]*Clip) *union {
	u := &union{bones: map[*Document][]joint{}, foreign: map[*Document]map[int]bool{}, ids: map[nodeKey]int{}}
	asked := make([][]*Clip, len(docs))
	for k, from := range docs {
		d := *from
		d.nodes = slices.Clone(d.nodes)
		u.docs, asked[k] = append(u.docs, &d), clips[from]
		u.bones[&d] = d.bones(asked[k])
		if u.lead == nil || len(u.bones[&d]) > len(u.bones[u.lead]) {
			u.lead = &d
		}
	}
	lead := u.identities(u.lead)
	for k, d := range u.docs {
		if d != u.lead {
			u.join(d, lead, asked[k])
		}
	}
	return u
}

// identities number the nodes of a file so that the same number is the same node in all files.
func (u *union) identities(d *Document) []int {
	out := make([]int, len(d.nodes))
	nth := map[nodeKey]int{}
	number := func(n, carrier int) {
		key := nodeKey{carrier: carrier, name: d.nodes[n].name}
		nth[key]++
		key.nth = nth[key]
		id, known := u.ids[key]
		if !known {
			id = len(u.ids) + 1 // 0 carries the roots
			u.ids[key] = id
		}
		out[n] = id
	}
	var stack []int
	for n := range d.nodes {
		if d.nodes[n].parent < 0 {
			number(n, 0)
			stack = append(stack, n)
		}
	}
	for len(stack) > 0 {
		n := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		for _, child := range d.nodes[n].children {
			number(child, out[n])
			stack = append(stack, child)
		}
	}
	return out
}

// join gives a file the lead's joints.
func (u *union) join(d *Document, lead []int, clips []*Clip) {
	numbered := map[int]int{}
	for n, id := range u.identities(d) {
		numbered[id] = n
	}
	own := u.bones[d]
	known := map[int]bool{}
	bones := slices.Clone(u.bones[u.lead])
	for i := range bones {
		from := bones[i].node
		n, has := numbered[lead[from]]
		if !has {
			n = len(d.nodes)
			added := node{name: u.lead.nodes[from].name, parent: -1, own: u.lead.nodes[from].own}
			if up := bones[i].parent; up >= 0 {
				added.parent = bones[up].node
				d.nodes[added.parent].children = append(slices.Clone(d.nodes[added.parent].children), n)
			}
			d.nodes = append(d.nodes, added)
		}
		bones[i].node, bones[i].absent = n, !has
		known[n] = true
	}
	u.foreign[d] = map[int]bool{}
	for _, j := range own {
		if !known[j.node] {
			u.foreign[d][j.node] = true
		}
	}
	u.bones[d] = bones
	d.fold(bones, clips, u.bones[u.lead])
}

// misfit says why a clip can't be brought over the rig of the lead: it moves what the lead has not.
func (u *union) misfit(d *Document, clip *Clip) error {
	for i := range clip.tracks {
		t := &clip.tracks[i]
		if !u.foreign[d][t.node] || !t.moves() {
			continue
		}
		what := fmt.Sprintf("it moves the node %q, which %s, whose joints the rig has, does not have", d.label(t.node), baseName(u.lead.Path))
		for n := range u.lead.nodes {
			if name := u.lead.nodes[n].name; name != "" && name == d.nodes[t.node].name {
				what = fmt.Sprintf("it moves the node %q, which hangs at %s here and at %s in %s", d.label(t.node), d.hangs(t.node), u.lead.hangs(n), baseName(u.lead.Path))
				break
			}
		}
		return fmt.Errorf("%s; one rig is for files of one skeleton: import it on its own", what)
	}
	return nil
}

// hangs is what carries a node, in words.
func (d *Document) hangs(n int) string {
	if p := d.nodes[n].parent; p >= 0 {
		return fmt.Sprintf("%q", d.label(p))
	}
	return "nothing"
}

// leftOut says which joints of a file the rig does not have, though no clip moves them; empty for none.
func (u *union) leftOut(d *Document) string {
	var names []string
	for _, n := range slices.Sorted(maps.Keys(u.foreign[d])) {
		names = append(names, d.label(n))
	}
	if len(names) == 0 {
		return ""
	}
	more := ""
	if len(names) > 3 {
		more, names = fmt.Sprintf(" and %d more", len(names)-3), names[:3]
	}
	return fmt.Sprintf("%s: the rig does not have %s%s, which no clip moves", baseName(d.Path), strings.Join(names, ", "), more)
}
