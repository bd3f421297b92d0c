package watch

import (
	"bufio"
	"encoding/json"
	"flag"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var idle = flag.Bool("idle", false, "this machine does nothing else: what is measured is held to its aim")

var saves = flag.Int("saves", 150, "how many saves of files TestSavedFilesLeaveNothingBehind makes")

// TestSavedFilesLeaveNothingBehind saves sheets of the demo again and again under a page that asks for the figure and the
// faults each time, as a browser does, and looks at what is left of it. `-saves 10000` is the long run.
func TestSavedFilesLeaveNothingBehind(t *testing.T) {
	folder, source := quay(t)
	page, host := serve(t, source, nil)
	address := "http://" + host + page.Path()
	response, err := http.Get(address + "changes")
	require.NoError(t, err)
	defer func() { _ = response.Body.Close() }()
	events := bufio.NewReader(response.Body)
	get := func(what string) {
		response, err := http.Get(address + what)
		require.NoError(t, err)
		require.Equal(t, http.StatusOK, response.StatusCode)
		_, err = io.Copy(io.Discard, response.Body)
		require.NoError(t, err)
		require.NoError(t, response.Body.Close())
	}
	texts := map[string]string{}
	for _, name := range []string{"keeper.motet", "clerk.motet"} {
		text, err := os.ReadFile(filepath.Join(folder, name))
		require.NoError(t, err)
		texts[name] = string(text)
	}
	heard := 0 // the version since which the sheet that was saved last has been as it is
	hear := func(path string) {
		for {
			line, err := events.ReadString('\n')
			require.NoError(t, err)
			data, isData := strings.CutPrefix(line, "data: ")
			if !isData {
				continue
			}
			var list toldList
			require.NoError(t, json.Unmarshal([]byte(data), &list))
			for _, s := range list.Sheets {
				if s.Path == path && s.Since > heard {
					heard = s.Since
					return
				}
			}
		}
	}
	made := 0
	work := func(times int) {
		for range times {
			name := "clerk.motet"
			if made%20 == 0 {
				name = "keeper.motet" // from which all others are made
			}
			made++
			value := fmt.Sprintf(" # save %d\n", made)
			save(t, filepath.Join(folder, name), strings.Replace(texts[name], "\n", value, 1))
			hear(name)
			get("sheet?path=" + name)
			get("faults?path=" + name)
			if made%25 == 0 {
				get("levels")
				get("family")
			}
		}
	}
	warm, times := max(60, min(*saves/10, 500)), *saves
	if testing.Short() {
		warm, times = 30, 30
	}
	work(warm)
	memory, routines := used(), runtime.NumGoroutine()
	work(times)
	after := used()
	t.Logf("%d saves: from %.1f to %.1f MB, from %d to %d goroutines", times, float64(memory)/1e6, float64(after)/1e6, routines, runtime.NumGoroutine())
	assert.LessOrEqual(t, runtime.NumGoroutine(), routines+4)
	assert.Less(t, after, memory+memory/5+2<<20, "no more than a fifth and 2 MB more")
}
