// Package sheets makes random motion sheets for tests: texts that parse, written the way hands write them, with odd
// white space, unit spellings, times that are not simplified, comments and blank lines anywhere; and the same with
// broken lines. It knows the language only as text, so that it can test every package that reads it.
package sheets

import (
	"fmt"
	"strings"

	"pgregory.net/rapid"
)

// Draw makes a text every line of which parses. Its blocks are of every kind, in any order and number, and its names
// need not fit together.
func Draw(t *rapid.T) string {
	w := &writer{t: t, end: pick(t, "line end", "\n", "\n", "\r\n")}
	w.write()
	return w.mark() + w.out.String()
}

// DrawBroken makes a text like [Draw], in which some lines are damaged: characters left out, put in or changed, halves
// of lines, line ends and indents lost.
func DrawBroken(t *rapid.T) string {
	text := Draw(t)
	for range rapid.IntRange(1, 6).Draw(t, "damages") {
		text = Damage(t, text)
	}
	return text
}

// Damage changes a text in one place as a slip of the hand does. The answer is UTF-8 where text is.
func Damage(t *rapid.T, text string) string {
	runes := []rune(text)
	from := rapid.IntRange(0, len(runes)).Draw(t, "from")
	to := min(from+rapid.SampledFrom([]int{0, 0, 1, 1, 2, 5, 40}).Draw(t, "length"), len(runes))
	slip := pick(t, "slip", "", "", " ", "\n", "  ", "\t", "x", ".", ",", "-", "^", "@", "%", "#", `"`, "1", "2b", "track ", "\nnotes\n", "\r", "−", "\u00a0", "é", "\n# c\n", "\ntrakc a\n")
	return string(runes[:from]) + slip + string(runes[to:])
}

func pick(t *rapid.T, label string, from ...string) string {
	return rapid.SampledFrom(from).Draw(t, label)
}

type writer struct {
	t   *rapid.T
	out strings.Builder
	end string
}

func (w *writer) pick(from ...string) string { return pick(w.t, "pick", from...) }

func (w *writer) chance(percent int) bool {
	return rapid.IntRange(0, 99).Draw(w.t, "chance") < percent
}

func (w *writer) times(least, most int) int { return rapid.IntRange(least, most).Draw(w.t, "times") }

func (w *writer) mark() string {
	if w.chance(5) {
		return "\ufeff"
	}
	return ""
}

// write writes some blocks, with what may stand between them.
func (w *writer) write() {
	w.between()
	if w.chance(70) {
		w.sheet()
	}
	kinds := []func(){
		w.rig, w.joints, w.channels, w.chains, w.pairs, w.pose, w.blocking, w.track, w.track, w.amend, w.eases, w.overlap,
		w.follow, w.layer, w.quiver, w.breath, w.plant, w.change, w.notes, w.house, w.family,
	}
	for range w.times(0, 4) {
		w.between()
		rapid.SampledFrom(kinds).Draw(w.t, "kind")()
	}
	w.between()
	if text := w.out.String(); w.chance(20) {
		w.out.Reset()
		w.out.WriteString(strings.TrimRight(text, "\r\n"))
	}
}

// between writes blank lines and comments in column 1.
func (w *writer) between() {
	for range w.times(0, 2) {
		w.out.WriteString(w.pick("", "", "  ", "# "+w.words(), "#", "# allow crowded: "+w.words()) + w.end)
	}
}

// open writes an opening line.
func (w *writer) open(pieces ...string) {
	w.line("", pieces)
}

// body writes a body line, and now and then a blank line or a comment above it.
func (w *writer) body(pieces ...string) {
	for w.chance(12) {
		w.out.WriteString(w.pick("", " ", "  # "+w.words(), "# "+w.words(), "\t#"+w.words()) + w.end)
	}
	w.line(w.pick("  ", "  ", " ", "\t", "      "), pieces)
}

func (w *writer) line(indent string, pieces []string) {
	w.out.WriteString(indent)
	written := 0
	for _, piece := range pieces {
		if piece == "" {
			continue
		}
		if written > 0 {
			w.out.WriteString(w.pick(" ", " ", "  ", "\t", "          "))
		}
		w.out.WriteString(piece)
		written++
	}
	if w.chance(15) {
		w.out.WriteString(w.pick(" ", "", "   ") + "# " + w.words() + w.pick("", " ", "\t"))
	} else if w.chance(10) {
		w.out.WriteString(w.pick(" ", "\t "))
	}
	w.out.WriteString(w.end)
}

func (w *writer) words() string {
	return w.pick("the lamp", "she never quite trusts that leg", "ebb", "Möwe über dem Kai", "# twice", "a\ttab", "手", "")
}

func (w *writer) name() string {
	return w.pick("hips", "spine", "arm.left", "arm.right", "on-left", "keeper-wait", "wrist_2", "möwe", "e\u0301cluse", "手.左", "in", "every", "lag2", "X", "a.-b")
}

func (w *writer) path() string {
	return w.name() + "/" + w.pick("side", "drop", "tilt", "turn", "höhe")
}

func (w *writer) pattern() string {
	return w.pick(w.name(), w.path(), "arm.*", "*", "*/lift", "wrist.*/turn")
}

func (w *writer) file() string { return w.pick(`"quayfolk.motet"`, `"../quay/keeper.motet"`, `""`) }

func (w *writer) number() string {
	return w.pick("", "-", "+") + w.pick("0", "1", "3.2", "12", "0.05", "7.250", "123.456", "00", "1234567890.5")
}

func (w *writer) above0() string { return w.pick("1", "3", "2.5", "0.75", "12", "120") }

func (w *writer) share() string { return w.pick("0", "15", "40.5", "99") + w.pick("%", " %") }

func (w *writer) time() string {
	term := func() string {
		return w.pick("0", "1", "2", "3/2", "6/4", "1.5", "0.25", "7", "10/3", "36") + w.pick("b", "b", "f", "s")
	}
	switch {
	case w.chance(70):
		return w.pick("", "", "", "-", "+") + term()
	case w.chance(60):
		return term() + w.pick("+", "-") + term()
	}
	return term() + w.pick("+", "-") + term() + w.pick("+", "-") + term()
}

func (w *writer) moment() string { return w.pick(w.time(), "0") }

func (w *writer) length() string {
	return w.above0() + w.pick("b", "f", "s") + w.pick("", "", "+0f", "+1/2b")
}

func (w *writer) optional(pieces ...string) string {
	if w.chance(40) {
		return strings.Join(pieces, " ")
	}
	return ""
}

func (w *writer) unit(number string, spellings ...string) string {
	return number + w.pick("", " ") + w.pick(spellings...)
}

func (w *writer) sheet() {
	w.open("sheet", w.name())
	lines := []func(){
		func() { w.body("rig", w.name(), w.optional("in", w.file())) },
		func() { w.body("rate", w.unit(w.pick("24", "30", "24000/1001", "23.976"), "fps", "FPS", "Fps")) },
		func() { w.body("tempo", w.unit(w.above0(), "bpm", "BPM")) },
		func() { w.body("beat", w.pick("18f", "0.75s", "36/2f")) },
		func() { w.body("cycle", w.length()) },
		func() { w.body("span", w.length()) },
		func() { w.body("leaves", w.name(), w.optional("in", w.file()), "at", w.moment()) },
		func() { w.body("rejoins", w.name(), "at", w.moment()) },
		func() { w.body("phase", w.moment()) },
		func() { w.body("advance", w.path(), w.number()) },
		func() { w.body("grid", w.length()) },
		func() { w.body("view", w.pick("front", "side", "three-quarter", "round")) },
	}
	if w.chance(15) {
		w.body("from", w.name(), w.optional("in", w.file()))
	}
	for range w.times(0, 6) {
		rapid.SampledFrom(lines).Draw(w.t, "line")()
	}
}

func (w *writer) rig() {
	w.open("rig", w.name())
	if w.chance(70) {
		w.body("height", w.pick("168", w.unit("168", "cm", "CM")))
	}
	if w.chance(50) {
		w.body("breathes", w.pick("12..20", "9.5..14"))
	}
	if w.chance(30) {
		w.body("model", w.file())
	}
}

func (w *writer) pose() {
	w.open("pose", w.name(), w.optional(w.pick("mirrors", "from"), w.name()))
	for range w.times(0, 4) {
		w.body(w.path(), w.number())
	}
}

func (w *writer) eases() {
	w.open("eases")
	for range w.times(0, 3) {
		w.body(w.name(), w.easing())
	}
}

func (w *writer) easing() string {
	return fmt.Sprintf("%s,%s,%s,%s", w.pick("0.3", "0", "1"), w.number(), w.pick("0.1", "+1"), w.number())
}

func (w *writer) overlap() {
	w.open("overlap")
	for range w.times(0, 3) {
		w.body(w.pattern(), w.moment())
	}
}

func (w *writer) follow() {
	w.open("follow", w.pattern(), "after", w.name())
	if w.chance(50) {
		w.body("lag", w.moment())
	}
	if w.chance(40) {
		w.body("spring", w.pick("arrives "+w.length()+" overshoot "+w.share(), w.unit("1.8", "Hz", "HZ", "hz")+" damping "+w.above0()))
	}
	for range w.times(0, 3) {
		w.body(w.pick("tilt", "twist", "höhe"), w.number(), "of", w.pick("tilt", "of", "lean"))
	}
}

func (w *writer) layer() {
	w.open("layer", w.name())
	if w.chance(50) {
		w.body(w.pick("adds", "replaces"))
	}
	if w.chance(50) {
		w.body("strength", w.share())
	}
}

func (w *writer) quiver() {
	w.open("quiver", w.name(), w.optional("in", w.name()), w.optional("every", w.length()))
	w.body("band", w.unit("0.6..2.5", "Hz", "hz", "HZ"))
	if w.chance(50) {
		w.body("seed", w.pick("7", "0", "42"))
	}
	for range w.times(0, 3) {
		w.body(w.pattern(), w.number())
	}
}

func (w *writer) breath() {
	w.open("breath", w.name(), w.optional("in", w.name()), w.optional("every", w.length()))
	if w.chance(60) {
		w.body("count", w.pick("1", "3", "2.0"))
	}
	if w.chance(50) {
		w.body("inhale", w.share())
	}
	if w.chance(50) {
		w.body("pause", w.share())
	}
	if w.chance(50) {
		w.body("starts", w.moment())
	}
	for range w.times(0, 3) {
		w.body(w.pattern(), w.number())
	}
}

func (w *writer) plant() {
	w.open("plant")
	for range w.times(0, 3) {
		w.body(w.name(), w.time()+".."+w.time(), w.optional("on", w.name()))
	}
}

func (w *writer) change() {
	w.open("change")
	lines := []func(){
		func() { w.body("amplify", w.pattern(), w.share()) },
		func() { w.body("scale", w.pattern(), w.share()) },
		func() { w.body("offset", w.pattern(), w.number()) },
		func() { w.body("delay", w.pattern(), w.moment()) },
		func() { w.body("mirror", w.optional(w.pattern())) },
		func() { w.body("without", w.pick("quiver", "breath", "layer"), w.name()) },
		func() { w.body("without", "track", w.name(), w.optional("in", w.name())) },
		func() { w.body("without", "follow", w.pattern(), w.optional("after", w.name())) },
		func() { w.body("without", w.pick("plant", "notes", "blocking", "overlap")) },
		func() { w.body("reseed", w.pick("11", "0")) },
		func() { w.body("swap", w.name(), w.name()) },
		func() { w.body("reverse") },
		func() { w.body("start", w.moment()) },
	}
	for range w.times(0, 5) {
		rapid.SampledFrom(lines).Draw(w.t, "line")()
	}
}

func (w *writer) family() {
	w.open("family", w.name())
	lines := []func(){
		func() { w.body("members", `"*.motet"`) },
		func() { w.body("each", w.name(), w.optional(w.name()), w.optional(w.name())) },
		func() { w.body("name", `"{who}-{clip}"`) },
		func() { w.body("opening", "same") },
		func() { w.body("phases", "spread") },
		func() { w.body("lengths", "same") },
		func() { w.body("distinct", w.share()) },
	}
	for range w.times(0, 4) {
		rapid.SampledFrom(lines).Draw(w.t, "line")()
	}
}
