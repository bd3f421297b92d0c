package watch

import (
	"context"
	"fmt"
	"math"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	cdplog "github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/grammar"
	"github.com/motet-sheet/motet/lint/motion/reference"
)

// quay copies the demo cast into a folder of the test's own, and gives a source that reads it.
func quay(t testing.TB) (folder string, source Source) {
	t.Helper()
	folder = t.TempDir()
	names, err := filepath.Glob("../../testdata/quay/*.motet")
	require.NoError(t, err)
	for _, name := range names {
		text, err := os.ReadFile(name)
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(folder, filepath.Base(name)), text, 0o666))
	}
	return folder, sourceOf(folder)
}

// sourceOf reads the sheets of a folder.
func sourceOf(folder string) Source {
	var disk Disk
	var reader Reader
	return func(ask Ask) ([]Sheet, []string, error) {
		for _, path := range ask.Changed {
			disk.Forget(path)
		}
		trees := func(name string) (*grammar.File, error) { return disk.Tree(folder, name) }
		list := func(within string) []string { return disk.List(folder, within) }
		var sheets []Sheet
		for _, name := range list(".") {
			if m, findings, ok := reader.Last(name); ok && ask.May(filepath.Join(folder, name)) {
				sheets = append(sheets, Sheet{Path: name, Root: folder, Motion: m, Findings: findings})
				continue
			}
			file, err := trees(name)
			if err == nil && file.First(grammar.SheetBlock) != nil {
				m, findings := reader.Read(file.Path, file, trees, list)
				sheets = append(sheets, Sheet{Path: file.Path, Root: folder, Motion: m, Findings: findings})
			}
		}
		return sheets, []string{folder}, nil
	}
}

// serve serves a page and follows its files until the test ends.
func serve(t testing.TB, source Source, opener Opener) (page *Page, host string) {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	page, host = New(source, opener), listener.Addr().String()
	ctx, cancel := context.WithCancel(context.Background())
	server := &http.Server{Handler: page.Handler(host), BaseContext: func(net.Listener) context.Context { return ctx }}
	var done sync.WaitGroup
	done.Go(func() { _ = server.Serve(listener) })
	done.Go(func() { assert.NoError(t, page.Follow(ctx)) })
	t.Cleanup(func() {
		cancel()
		_ = server.Close()
		done.Wait()
	})
	return page, host
}

// browser is a page in a real browser, and all that it complained about or asked for.
type browser struct {
	context.Context
	t         *testing.T
	mu        sync.Mutex
	complains []string
	asked     []string
}

// open starts Debian's Chromium without a window. Where there is none the test is skipped, or fails if MOTET_REFERENCE
// is require.
func open(t *testing.T, address string, media ...*emulation.MediaFeature) *browser {
	t.Helper()
	return openUntil(t, address, "globalThis.motet?.state.sheet?.motion && motet.state.drawn > 0", media...)
}

// openUntil waits until an expression on the page is true.
func openUntil(t *testing.T, address, ready string, media ...*emulation.MediaFeature) *browser {
	t.Helper()
	return openIn(t, address, ready, false, media...)
}

// openIn starts a browser that draws in three dimensions, by software, or not at all.
func openIn(t *testing.T, address, ready string, threeDimensions bool, media ...*emulation.MediaFeature) *browser {
	t.Helper()
	if threeDimensions && testing.Short() {
		t.Skip("three dimensions by software take long")
	}
	path := reference.Program(t, "chromium")
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.WindowSize(1600, 900))
	if threeDimensions {
		// A machine that has much to do takes long to draw so, and the browser must not take that for the end of it.
		options = append(options, chromedp.Flag("use-angle", "swiftshader"), chromedp.Flag("enable-unsafe-swiftshader", true), chromedp.Flag("disable-gpu-watchdog", true))
	} else {
		options = append(options, chromedp.DisableGPU)
	}
	allocator, stop := chromedp.NewExecAllocator(context.Background(), options...)
	t.Cleanup(stop)
	ctx, cancel := chromedp.NewContext(allocator)
	t.Cleanup(cancel)
	b := &browser{Context: ctx, t: t}
	require.NoError(t, chromedp.Listen(ctx, b.heard))
	for _, enable := range []func() error{
		func() error { _, err := chromedp.Call(ctx, network.Enable, network.EnableParams{}); return err },
		func() error { _, err := chromedp.Call(ctx, cdplog.Enable, cdp.Empty{}); return err },
		func() error {
			_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: media})
			return err
		},
	} {
		require.NoError(t, enable())
	}
	b.Context, cancel = context.WithTimeout(ctx, 6*time.Minute)
	t.Cleanup(cancel)
	b.do(chromedp.Navigate(address))
	b.await(ready)
	return b
}

func (b *browser) heard(event any) {
	b.mu.Lock()
	defer b.mu.Unlock()
	switch e := event.(type) {
	case *runtime.EventExceptionThrown:
		b.complains = append(b.complains, fmt.Sprint(e.ExceptionDetails.Text, " ", e.ExceptionDetails.Exception.Description))
	case *runtime.EventConsoleAPICalled:
		b.complains = append(b.complains, fmt.Sprint(e.Type))
	case *cdplog.EventEntryAdded:
		if !strings.Contains(e.Entry.URL, "favicon") {
			b.complains = append(b.complains, e.Entry.Text+" "+e.Entry.URL)
		}
	case *network.EventRequestWillBeSent:
		b.asked = append(b.asked, e.Request.URL)
	}
}

func (b *browser) do(actions ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	require.NoError(b.t, chromedp.Do(b, actions...))
}

// run runs a script on the page.
func (b *browser) run(script string) {
	b.t.Helper()
	b.do(chromedp.Evaluate[chromedp.Void](script))
}

// await waits until an expression on the page is true.
func (b *browser) await(expression string) {
	b.t.Helper()
	_, err := chromedp.Run(b, chromedp.Poll[bool]("!!("+expression+")", chromedp.WithPollingInterval(5*time.Millisecond)))
	require.NoError(b.t, err, expression)
}

// value gives what an expression on the page is.
func value[T any](b *browser, expression string) T {
	b.t.Helper()
	out, err := chromedp.Run(b, chromedp.Evaluate[T](expression))
	require.NoError(b.t, err, expression)
	return out
}

// press presses a key on the page.
func (b *browser) press(key, modifiers string) {
	b.t.Helper()
	b.run(fmt.Sprintf("document.body.dispatchEvent(new KeyboardEvent('keydown', {key: %q, bubbles: true, %s}))", key, modifiers))
}

// see keeps a picture of the page where MOTET_SEE names a folder, for whoever wants to look.
func (b *browser) see(name string) {
	if folder := os.Getenv("MOTET_SEE"); folder != "" {
		png, err := chromedp.Run(b, chromedp.CaptureScreenshot())
		require.NoError(b.t, err)
		require.NoError(b.t, os.WriteFile(filepath.Join(folder, name+".png"), png, 0o666))
	}
}

func number(t *testing.T, source Source, path string) int {
	sheets, _, err := source(Ask{})
	require.NoError(t, err)
	for i := range sheets {
		if sheets[i].Path == path {
			return i
		}
	}
	t.Fatalf("no %s", path)
	return -1
}

func TestThePageInABrowser(t *testing.T) {
	folder, source := quay(t)
	opened := make(chan string, 1)
	page, host := serve(t, source, func(path string, line int) error { opened <- fmt.Sprint(path, " ", line); return nil })
	b := open(t, "http://"+host+page.Path())
	keeper := number(t, source, "keeper.motet")
	b.run(fmt.Sprintf("document.querySelectorAll('#sheets button')[%d].click()", keeper))
	b.await("motet.state.sheet.name == 'keeper-wait'")

	t.Run("scrubbing shows what the engine computes", func(t *testing.T) {
		sheets, _, err := source(Ask{})
		require.NoError(t, err)
		m := sheets[keeper].Motion
		for _, frames := range []float64{0, 30, 61, 107} {
			world := m.World(frames)
			// In one go, since frames are drawn while two questions are on their way.
			drawn := value[float64](b, fmt.Sprintf("(motet.seek(%g), motet.state.drawn)", frames))
			b.await(fmt.Sprintf("motet.state.drawn > %g", drawn))
			got := value[[]float64](b, "[...motet.state.out]")
			for joint := range world {
				at := world[joint].Position()
				for axis := range at {
					require.InDelta(t, at[axis], got[3*joint+axis], 1e-4, "frame %g, %s", frames, m.Rig.Joints[joint].Name)
				}
			}
		}
		b.see("keeper")
	})

	t.Run("each key works", func(t *testing.T) {
		b.run("motet.seek(18)")
		tests := []struct{ key, modifiers, what, want string }{
			{"ArrowRight", "", "Math.round(motet.state.time*1e6)/1e6", "19"},
			{"ArrowUp", "", "Math.round(motet.state.time*1e6)/1e6", "18"},
			{"ArrowDown", "shiftKey: true", "Math.round(motet.state.time*1e6)/1e6", "36"},
			{"ArrowLeft", "shiftKey: true", "Math.round(motet.state.time*1e6)/1e6", "18"},
			{"s", "", "motet.state.view", "side"},
			{"t", "", "motet.state.view", "three-quarter"},
			{"r", "", "motet.state.view", "round"},
			{"f", "", "motet.state.view", "front"},
			{"-", "", "motet.state.speed", "0.5"},
			{"+", "", "motet.state.speed", "1"},
			{"g", "", "motet.state.ghost", "true"},
			{"e", "", "motet.state.seam", "true"},
			{"b", "", "motet.state.click", "true"},
			{"b", "", "motet.state.click", "false"},
			{"a", "", "motet.state.arc", "hips"},
			{" ", "", "motet.state.playing", "true"},
		}
		for _, test := range tests {
			b.press(test.key, test.modifiers)
			assert.Equal(t, test.want, value[string](b, "String("+test.what+")"), "%q", test.key)
		}
		// With the seam over and over, the moment stays within half a second of it: 12 frames of 24 a second.
		for range 5 {
			b.do(chromedp.Sleep(60 * time.Millisecond))
			at := value[float64](b, "motet.state.time")
			assert.True(t, at <= 13 || at >= 108-13, "frame %g is not at the seam", at)
		}
		b.press("e", "")
		b.press(" ", "")
		b.see("keys")
	})

	t.Run("the row that is played opens in the editor, and an address names a moment", func(t *testing.T) {
		b.run("location.hash = 'sheet=keeper.motet&frame=64'")
		b.await("Math.abs(motet.state.time - 64) < 1e-9 && document.querySelector('#lines .now')?.textContent.includes('on-right')")
		b.press("o", "")
		assert.Equal(t, "keeper.motet 37", <-opened)
		page.Show("apprentice.motet", 5)
		b.await("motet.state.sheet.path == 'apprentice.motet' && motet.state.time == 5")
		page.Show("keeper.motet", 0)
		b.await("motet.state.sheet.path == 'keeper.motet' && motet.state.time == 0")
	})

	t.Run("a saved file moves the figure, at the same moment and from the same side", func(t *testing.T) {
		b.press("s", "")
		b.run("motet.seek(40)")
		name := filepath.Join(folder, "keeper.motet")
		text, err := os.ReadFile(name)
		require.NoError(t, err)
		var took [3][]float64
		var plain []float64
		for i := range 20 {
			change := fmt.Sprintf("hips/side         %d", 6+i%2)
			next := strings.Replace(string(text), "hips/side         5.4", change, 1)
			require.NotEqual(t, string(text), next)
			drawn := value[float64](b, "motet.state.shown.since")
			start := time.Now()
			save(t, name, next)
			b.await(fmt.Sprintf("motet.state.shown.since > %g", drawn))
			// The page's clock is this machine's: milliseconds since 1970, as a fraction (W3C High Resolution Time, 5).
			begun := float64(start.UnixMicro()) / 1000
			stages := value[[]float64](b, "[motet.state.shown.heard, motet.state.shown.told, motet.state.shown.at]")
			for k := range stages {
				took[k] = append(took[k], stages[k]-begun)
			}
			b.run(`globalThis.plain = 0; { const asked = performance.now(); fetch('sheets').then(r => r.json()).then(() => requestAnimationFrame(
				() => setTimeout(() => { globalThis.plain = performance.now() - asked; }))); }`)
			b.await("globalThis.plain")
			plain = append(plain, value[float64](b, "globalThis.plain"))
			require.True(t, value[bool](b, fmt.Sprintf("motet.state.sheet.text.includes('  %s')", change)))
		}
		load, _ := os.ReadFile("/proc/loadavg")
		for k, stage := range []string{"hears of it", "has been told", "shows it"} {
			slices.Sort(took[k])
			t.Logf("after a save the page %s: half of 20 within %.0f ms, 19 within %.0f ms; load %s", stage, took[k][9], took[k][18], load)
		}
		// The aim is 100 ms on a machine that does nothing else, and can only be held to there. Where it does more, or races
		// are looked for, everything takes longer: a plain question of the page to the server, and a frame, tell how much.
		slices.Sort(plain)
		t.Logf("a plain question and a frame: half of 20 within %.0f ms, 19 within %.0f ms", plain[9], plain[18])
		if *idle {
			assert.Less(t, took[2][9], 100.0)
		}
		assert.Equal(t, "side 40", value[string](b, "motet.state.view + ' ' + motet.state.time"))
	})

	t.Run("a broken file says so at its line, and the rest goes on", func(t *testing.T) {
		name := filepath.Join(folder, "keeper.motet")
		text, err := os.ReadFile(name)
		require.NoError(t, err)
		save(t, name, strings.Replace(string(text), "3b      -14     -6=", "3b      -14,5   -6=", 1))
		b.await("document.querySelector('#lines .said')?.textContent.includes('decimal comma')")
		b.see("broken")
		b.run("document.querySelector('#lines .said').click()")
		assert.Equal(t, fmt.Sprint("keeper.motet ", strings.Count(string(text)[:strings.Index(string(text), "3b      -14     -6=")], "\n")), <-opened)
		save(t, name, string(text))
		b.await("!document.querySelector('#lines .said')")
	})

	t.Run("the family view shows twelve, two of them laid over", func(t *testing.T) {
		b.press("v", "")
		b.await("motet.cast.members.length == 12")
		b.run("document.querySelectorAll('#members button')[0].click(); document.querySelectorAll('#members button')[5].click()")
		assert.Regexp(t, `^apprentice-wait and eelcatcher-wait are \d+ % of the base’s motion apart$`, value[string](b, "document.querySelector('#apart').textContent"))
		b.press("p", "")
		b.press(" ", "")
		_, err := chromedp.Call(b, emulation.SetDeviceMetricsOverride, emulation.SetDeviceMetricsOverrideParams{Width: 1920, Height: 1080, DeviceScaleFactor: 1})
		require.NoError(t, err)
		b.await("motet.cast.canvas.width == 1920")
		first := value[float64](b, "motet.state.drawn")
		const seconds = 1
		b.do(chromedp.Sleep(seconds * time.Second))
		drawn := (value[float64](b, "motet.state.drawn") - first) / seconds
		// What a frame costs, with the pixels: reading one back waits for all that came before.
		cost := value[float64](b, `(() => {
			const begun = performance.now(), { cast } = motet;
			for (let i = 0; i < 20; i++) cast.draw(i / 10, 'front', 0, true);
			cast.context.getImageData(0, 0, 1, 1);
			return (performance.now() - begun) / 20;
		})()`)
		load, _ := os.ReadFile("/proc/loadavg")
		t.Logf("at 1920 by 1080 the family is drawn %.0f times a second; a frame by itself takes %.1f ms; load %s", drawn, cost, load)
		b.see("family")
		b.press("v", "")
	})

	assert.Empty(t, b.complains, "the console stays empty")
	for _, address := range b.asked {
		assert.True(t, strings.HasPrefix(address, "http://"+host+"/"), "%s leaves the page's own server", address)
	}
}

func TestWhoAsksForLessMotionStartsPaused(t *testing.T) {
	_, source := quay(t)
	page, host := serve(t, source, nil)
	b := open(t, "http://"+host+page.Path(),
		&emulation.MediaFeature{Name: "prefers-reduced-motion", Value: "reduce"}, &emulation.MediaFeature{Name: "prefers-color-scheme", Value: "dark"})
	before := value[float64](b, "motet.state.time")
	b.do(chromedp.Sleep(200 * time.Millisecond))
	assert.Equal(t, before, value[float64](b, "motet.state.time"))
	assert.False(t, value[bool](b, "motet.state.playing"))
	b.see("dark")
}

// TestMotionDataIsSmall holds the data of twelve members in the page under 5 MB.
func TestMotionDataIsSmall(t *testing.T) {
	_, source := quay(t)
	sheets, _, err := source(Ask{})
	require.NoError(t, err)
	family := tellFamily(sheets)
	require.Len(t, family.Members, 12)
	size := 0
	for _, member := range family.Members {
		size += len(member.Moves.Places)
	}
	t.Logf("%.2f MB of places for %d members", float64(size)/1e6, len(family.Members))
	assert.Less(t, size, 5_000_000)
	for i, row := range family.Distances {
		assert.Zero(t, row[i])
		for k, share := range row {
			assert.False(t, math.IsNaN(share), "%d %d", i, k)
		}
	}
}
