package sheets

import "pgregory.net/rapid"

// column is a column of a table and how one of its cells is drawn.
type column struct {
	name     string
	required bool
	cell     func() string
}

// table writes a table: required columns and some of the others, and rows that may leave out trailing cells that are
// not required.
func (w *writer) table(columns []column, rows int) {
	var kept []column
	for _, c := range columns {
		if c.required || w.chance(50) {
			kept = append(kept, c)
		}
	}
	header := make([]string, len(kept))
	least := 0
	for i, c := range kept {
		header[i] = c.name
		if c.required {
			least = i + 1
		}
	}
	w.body(header...)
	for range w.times(0, rows) {
		cells := make([]string, 0, len(kept))
		for _, c := range kept[:w.times(least, len(kept))] {
			if !c.required && w.chance(20) {
				cells = append(cells, ".")
				continue
			}
			cells = append(cells, c.cell())
		}
		w.body(cells...)
	}
}

func (w *writer) choice(words ...string) func() string {
	return func() string { return w.pick(words...) }
}

func (w *writer) text() string {
	return w.pick(`"to their left"`, `""`, `"# no comment"`, `"links, über dem Kai"`)
}

func (w *writer) joints() {
	w.open("joints")
	w.table([]column{
		{"joint", true, w.name},
		{"on", true, func() string { return w.pick(".", w.name()) }},
		{"x", true, w.number},
		{"y", true, w.number},
		{"z", true, w.number},
		{"rx", false, w.number},
		{"order", false, w.choice("xyz", "zxy")},
		{"part", false, w.choice("root", "spine", "eye")},
	}, 4)
}

func (w *writer) channels() {
	w.open("channels")
	w.table([]column{
		{"channel", true, w.path},
		{"joint", false, w.name},
		{"drives", false, w.choice("move.x", "turn.z", "scale.xz", "goal.swivel", "morph.smile", "morph.Mund_L.größer")},
		{"gain", false, w.number},
		{"unit", false, w.choice("cm", "CM", "deg", "Deg", "%")},
		{"range", false, w.choice("-12..12", "0..140", "-0.5..+3")},
		{"mirror", false, w.choice("keep", "flip")},
		{"positive", false, w.text},
		{"rest", false, w.number},
	}, 4)
}

func (w *writer) chains() {
	w.open("chains")
	w.table([]column{
		{"goal", true, w.name},
		{"root", true, w.name},
		{"middle", true, w.name},
		{"end", true, w.name},
		{"bends", true, w.choice("+z", "-x")},
	}, 3)
}

func (w *writer) pairs() {
	w.open("pairs")
	w.table([]column{{"left", true, w.name}, {"right", true, w.name}}, 3)
}

func (w *writer) blocking() {
	w.open("blocking", w.optional("every", w.length()))
	w.table([]column{
		{"at", true, w.time},
		{"pose", true, w.name},
		{"until", false, w.time},
		{"drift", false, func() string { return w.pick("12%", "0%", "-3.5%") }},
		{"ease", false, w.ease},
	}, 5)
}

func (w *writer) ease() string { return w.pick("heavy", w.easing()) }

func (w *writer) track() {
	w.open("track", w.name(), w.optional("in", w.name()), w.optional("every", w.length()))
	w.keys()
}

func (w *writer) amend() {
	w.open("amend", w.name(), w.optional("in", w.name()))
	w.keys()
}

// keys writes a table of channels, whose rows are never short.
func (w *writer) keys() {
	names := rapid.Permutation([]string{"side", "drop", "höhe", "手", "ease"}).Draw(w.t, "columns")[:w.times(0, 4)]
	w.body(append([]string{"at"}, names...)...)
	for range w.times(0, 6) {
		cells := []string{w.pick(w.time(), w.time(), "0")}
		for _, name := range names {
			switch {
			case w.chance(25):
				cells = append(cells, ".")
			case name == "ease":
				cells = append(cells, w.ease())
			default:
				cells = append(cells, w.number()+w.pick("", "", "~", "^", ">", "=", "@"+w.number(), "@"+w.number()+","+w.number()))
			}
		}
		w.body(cells...)
	}
}

func (w *writer) notes() {
	w.open("notes")
	w.table([]column{
		{"at", true, w.time},
		{"status", true, w.choice("open", "done")},
		{"control", false, w.name},
		{"note", true, w.text},
	}, 4)
}

func (w *writer) house() {
	w.open("house")
	w.table([]column{
		{"rule", true, w.choice("off-beat", "crowded", "seam-gap")},
		{"level", true, w.choice("error", "warning", "note", "off")},
		{"limit", false, w.choice("0.5f", "6", "15%", "0.02CM,0.1deg,0.1%", "3cm/S", "12..20")},
	}, 4)
}
