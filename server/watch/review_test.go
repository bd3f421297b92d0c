package watch

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// reviewed writes a review of sheets into a folder, and opens it there.
func reviewed(t *testing.T, folder string, sheets []Sheet, o ReviewOptions, media ...*emulation.MediaFeature) (b *browser, page string) {
	t.Helper()
	if testing.Short() {
		t.Skip("a review is a file, and nobody serves it")
	}
	var file strings.Builder
	require.NoError(t, Review(&file, sheets, o))
	name := filepath.Join(folder, "review.html")
	require.NoError(t, os.WriteFile(name, []byte(file.String()), 0o666))
	return openUntil(t, "file://"+name, "globalThis.motet?.state.drawn > 2", media...), file.String()
}

// silent holds that a page complained about nothing and asked for nothing but itself.
func (b *browser) silent() {
	b.t.Helper()
	assert.Empty(b.t, b.complains, "the console stays empty")
	for _, address := range b.asked {
		assert.True(b.t, strings.HasPrefix(address, "file:") || strings.HasPrefix(address, "blob:"), "%s is asked for", address)
	}
}

// cardOf is a script that finds the card of a member.
func cardOf(name string) string {
	return `[...document.querySelectorAll('article')].find(a => a.querySelector('h2').textContent === '` + name + `')`
}

// faint gives the words of a page that stand out from what is behind them by less than 4.5 to 1 (WCAG 2.2, 1.4.3; the
// ratio as its definitions have it, from memory).
func faint(b *browser) []string {
	b.t.Helper()
	return value[[]string](b, `(() => {
		const parts = color => color.match(/[\d.]+/g).map(Number);
		const luminance = color => parts(color).slice(0, 3).map(v => v / 255).map(v => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4)
			.reduce((sum, v, i) => sum + v * [0.2126, 0.7152, 0.0722][i], 0);
		const ratio = (a, b) => (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
		const behind = e => {
			for (; e; e = e.parentElement) {
				const color = getComputedStyle(e).backgroundColor;
				if ((parts(color)[3] ?? 1) > 0) return color;
			}
			return 'rgb(255, 255, 255)';
		};
		const out = [];
		let looked = 0;
		for (const e of document.querySelectorAll('body *')) {
			const own = [...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim());
			for (const [asked, pseudo] of [[own, null], [e.placeholder, '::placeholder']]) {
				if (!asked || ['SCRIPT', 'NOSCRIPT'].includes(e.tagName)) continue;
				looked++;
				const r = ratio(luminance(getComputedStyle(e, pseudo).color), luminance(behind(e)));
				if (r < 4.5) out.push(e.tagName + ' ' + (pseudo ?? e.textContent.trim()) + ' ' + r.toFixed(2));
			}
		}
		return looked > 50 ? out : ['only ' + looked + ' looked at'];
	})()`)
}

// TestTheReviewFromDisk opens the review file without any server, plays it, writes notes and saves them; then the notes
// stand in the sheets, one is done, and the next round's page, made against the first, says so and what else has changed.
func TestTheReviewFromDisk(t *testing.T) {
	folder, source := quay(t)
	sheets, _, err := source(Ask{})
	require.NoError(t, err)
	b, first := reviewed(t, folder, sheets, ReviewOptions{Title: "the <quay>"})
	t.Logf("the review of the demo has %.2f MB", float64(len(first))/1e6)
	require.Less(t, len(first), 3_000_000)
	assert.Equal(t, 12.0, value[float64](b, "document.querySelectorAll('article').length"))
	assert.Equal(t, "the <quay>", value[string](b, "document.querySelector('h1').textContent"))
	assert.Equal(t, "12 members; the check reports nothing; no open notes", value[string](b, "document.querySelector('#summary').textContent"))

	assert.Empty(t, faint(b), "light")
	b.run("motet.state.playing = false; motet.state.seconds = 1.125") // beat 3/2 at 80 bpm, and at 90 bpm nearest to 3/2 too
	b.await(cardOf("keeper-wait") + ".querySelector('.at').textContent === 'at 3/2b'")
	for name, note := range map[string]string{"keeper-wait": `say "now" sooner`, "tallywoman-wait": "the chalk!"} {
		b.run(`{ const card = ` + cardOf(name) + `; card.querySelector('input').value = ` + "`" + note + "`" + `; card.querySelector('form').requestSubmit(); }`)
	}
	const keeper, tally = "keeper.motet 3/2b say ’now’ sooner\n", "tallywoman.motet 3/2b the chalk!\n"
	written := value[string](b, "document.querySelector('#lines').value")
	assert.Contains(t, []string{keeper + tally, tally + keeper}, written)
	assert.Equal(t, "not saved yet", value[string](b, "document.querySelector('#saved').textContent"))
	b.run(`const make = URL.createObjectURL.bind(URL); URL.createObjectURL = blob => { blob.text().then(text => { globalThis.saved = text; }); return make(blob); }; document.querySelector('#save').click()`)
	b.await("globalThis.saved")
	assert.Equal(t, written, value[string](b, "globalThis.saved"))
	assert.Empty(t, value[string](b, "document.querySelector('#saved').textContent"))
	b.see("review")
	b.silent()

	// What `motet review --take` writes for these lines, testdata/script/review.txtar holds; here one is done already.
	change := func(name, from, to string) {
		file := filepath.Join(folder, name)
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		changed := strings.Replace(string(text), from, to, 1)
		require.NotEqual(t, string(text), changed, name)
		require.NoError(t, os.WriteFile(file, []byte(changed), 0o666))
	}
	change("keeper.motet", "notes\n  at      status  note\n", "notes\n  at      status  note\n  3/2b    open    \"say ’now’ sooner\"\n")
	change("tallywoman.motet", "# Down to the board", "notes\n  at      status  note\n  3/2b    open    \"the chalk!\"\n\n# Down to the board")
	sheets, _, err = sourceOf(folder)(Ask{})
	require.NoError(t, err)
	var second strings.Builder
	require.NoError(t, Review(&second, sheets, ReviewOptions{Title: "quay"}))
	change("tallywoman.motet", "  3/2b    open    \"the", "  3/2b    done    \"the")
	change("tallywoman.motet", "2b      -6^     -34^", "2b      -6^     -30^")

	earlier, err := ReadReview(second.String())
	require.NoError(t, err)
	require.Len(t, earlier, 12)
	sheets, _, err = sourceOf(folder)(Ask{})
	require.NoError(t, err)
	b, third := reviewed(t, folder, sheets, ReviewOptions{Title: "quay", Earlier: &Round{Name: "second.html", Motions: earlier}}, &emulation.MediaFeature{Name: "prefers-color-scheme", Value: "dark"})
	assert.Empty(t, faint(b), "dark")
	require.Less(t, len(third), 3_000_000)
	assert.Equal(t, "12 members; the check reports nothing; 1 open note; since second.html, 1 member changed and 1 note done", value[string](b, "document.querySelector('#summary').textContent"))
	assert.Equal(t, []string{"at 3/2b, say ’now’ sooner", "moves as it did"}, value[[]string](b, "["+"..."+cardOf("keeper-wait")+".querySelectorAll('li')].map(li => li.textContent)"))
	said := value[[]string](b, "["+"..."+cardOf("tallywoman-wait")+".querySelectorAll('li')].map(li => li.textContent)")
	require.Len(t, said, 2)
	assert.Equal(t, "done: at 3/2b, the chalk!", said[0])
	assert.Regexp(t, `^head/turn differs by up to 4°, at `, said[1]) // by the 4° of the edit, at the key's own moment
	b.run("document.querySelector('#save').scrollIntoView()")
	b.see("review-since")
	b.silent()
}

func TestWhatIsNoReviewFile(t *testing.T) {
	for page, want := range map[string]string{
		"":                           "it is no review file",
		"<html>":                     "it is no review file",
		dataOpens + `{"members":[]`:  "it is no review file",
		dataOpens + `{` + dataCloses: "damaged",
		dataOpens + `{"members":[]}` + dataCloses:          "without the sheets",
		dataOpens + `{"files":{},"sheets":7}` + dataCloses: "damaged",
	} {
		_, err := ReadReview(page)
		assert.ErrorContains(t, err, want, page)
	}
	// Files that are not what they say are sheets that could not be played.
	motions, err := ReadReview(dataOpens + `{"files":{"a.motet":"\u0000 sheet"},"sheets":["a.motet","b.motet"]}` + dataCloses)
	require.NoError(t, err)
	for _, name := range []string{"a.motet", "b.motet"} {
		assert.False(t, motions[name].Whole(), name)
	}
}
