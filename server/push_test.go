package server

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"go.lsp.dev/uri"
)

// A rig and a sheet on it, small enough to read at a glance.
const (
	deckhandRig = `rig deckhand
  height    100

joints
  joint           on              x       y       z       part
  hips            .               0       50      0       root
  head            hips            0       40      0       head

channels
  channel                 joint           drives          gain    unit    range       mirror  positive
  hips/side               .               move.x          1       cm      -12..12     flip    "to their left"
  head/nod                .               turn.x          1       deg     -40..40     keep    "down"
`
	deckhandSheet = `sheet deckhand-wait
  rig       deckhand in "deckhand.motet"
  rate      24 fps
  tempo     80 bpm
  cycle     4b

track hips
  at      side
  0b      2^
  3b      -2^

track head
  at      nod
  0b      1.5^
  1b      4^
  3b      -3.5^
`
)

// quay makes a folder with files and gives the addresses of names in it.
func quay(t testing.TB, files map[string]string) (address func(string) string) {
	t.Helper()
	folder := t.TempDir()
	for name, text := range files {
		path := filepath.Join(folder, filepath.FromSlash(name))
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
		require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
	}
	return func(name string) string { return string(uri.File(filepath.Join(folder, filepath.FromSlash(name)))) }
}

// rules are the rules and places of diagnostics, one a line.
func rules(found []diagnostic) string {
	var out strings.Builder
	for _, d := range found {
		fmt.Fprintf(&out, "%d:%d-%d:%d %s\n", d.Range.Start.Line, d.Range.Start.Character, d.Range.End.Line, d.Range.End.Character, d.Code)
	}
	return out.String()
}

func TestACleanSheetGetsAnEmptyList(t *testing.T) {
	at := quay(t, map[string]string{"deckhand.motet": deckhandRig})
	c := connect(t)
	c.open(at("wait.motet"), deckhandSheet)
	require.Empty(t, rules(c.diagnosticsOf(at("wait.motet"), 1)))
	require.Empty(t, c.log.String())
}

func TestDiagnosticsFollowTheText(t *testing.T) {
	at := quay(t, map[string]string{"deckhand.motet": deckhandRig})
	sheet := at("wait.motet")
	c := connect(t, rich)
	c.open(sheet, deckhandSheet)
	c.change(sheet, 2, part(6, 6, 6, 10, "hisp"), part(14, 10, 14, 13, "4,5"))
	found := c.diagnosticsOf(sheet, 2)
	require.Equal(t, "6:6-6:10 unknown-name\n14:10-14:13 syntax\n", rules(found))
	require.Equal(t, "motet", found[0].Source)
	require.Equal(t, 1, found[0].Severity)
	require.Contains(t, found[0].Message, "did you mean `hips`?")
	require.JSONEq(t, "{\"mends\":[\"write `hips`\"]}", string(found[0].Data))

	c.change(sheet, 3, part(6, 6, 6, 10, "hips"), part(14, 10, 14, 13, "4^"))
	require.Empty(t, c.diagnosticsOf(sheet, 3))
	c.close(sheet)
	require.Empty(t, c.diagnosticsOf(sheet, 0), "a closed sheet has no diagnostics")
	c.forget()
	c.open(sheet, strings.ReplaceAll(deckhandSheet, "hips", "hisp"))
	require.NotEmpty(t, c.diagnosticsOf(sheet, 1), "and gets them again when it is opened again")
}

// golang/go#54983: diagnostics that stay after the fault is mended.
func TestEveryChangeIsAnsweredThoughNothingIsFound(t *testing.T) {
	c := connect(t)
	c.open(sheetURI, "# nothing yet\n")
	c.diagnosticsOf(sheetURI, 1)
	for version := 2; version < 6; version++ {
		c.change(sheetURI, version, part(0, 0, 0, 0, "#"))
		require.Empty(t, c.diagnosticsOf(sheetURI, version))
	}
}

func TestDiagnosticsSpeakTheClientsUnits(t *testing.T) {
	for units, want := range map[string]string{"utf-8": "0:6-0:13", "utf-16": "0:6-0:11", "utf-32": "0:6-0:10"} {
		t.Run(units, func(t *testing.T) {
			c := connect(t, counts(units))
			c.open(sheetURI, "sheet n😀,r\n")
			require.Contains(t, rules(c.diagnosticsOf(sheetURI, 1)), want+" syntax\n")
		})
	}
}

func TestRelatedPlacesInOtherFiles(t *testing.T) {
	broken := strings.Replace(deckhandRig, "head            hips ", "head            hisp ", 1)
	at := quay(t, map[string]string{"deckhand.motet": "# é 😀\n" + broken})
	c := connect(t, rich)
	c.open(at("wait.motet"), deckhandSheet)
	found := c.diagnosticsOf(at("wait.motet"), 1)
	require.NotEmpty(t, found)
	require.NotEmpty(t, found[0].RelatedInformation)
	require.Equal(t, at("deckhand.motet"), found[0].RelatedInformation[0].Location.URI)
	require.Equal(t, 7, found[0].RelatedInformation[0].Location.Range.Start.Line)
}

func TestClientsWithoutRelatedPlacesGetNone(t *testing.T) {
	c := connect(t)
	c.open(sheetURI, "sheet a\n  tempo     80 bpm\n  tempo     90 bpm\n")
	for _, d := range c.diagnosticsOf(sheetURI, 1) {
		require.Empty(t, d.RelatedInformation)
		require.Empty(t, d.Data)
	}
}

func TestSheetsAreCheckedAgainWhenTheirRigChanges(t *testing.T) {
	at := quay(t, map[string]string{"deckhand.motet": deckhandRig, "other.motet": "# no rig\n"})
	rig, sheet, other := at("deckhand.motet"), at("wait.motet"), at("other.motet")
	c := connect(t)
	c.open(sheet, deckhandSheet)
	require.Empty(t, c.diagnosticsOf(sheet, 1))
	c.open(rig, deckhandRig)
	c.open(other, "# no rig\n")
	c.diagnosticsOf(other, 1)
	c.diagnosticsOf(rig, 1)

	line := strings.Count(deckhandRig[:strings.Index(deckhandRig, "head/nod")], "\n")
	c.forget()
	c.change(rig, 2, part(line, 7, line, 10, "dip"))
	require.Empty(t, c.diagnosticsOf(rig, 2))
	c.settles(sheet, "12:10-12:13 unknown-name\n") // the unsaved rig has no head/nod

	c.close(rig)
	c.settles(sheet, "") // the rig on disk has it
	require.NoError(t, c.stop())
	for _, p := range c.pushes {
		require.NotEqual(t, other, p.URI, "what does not use the rig is left alone")
	}
}

func TestSheetsAreCheckedAgainWhenAFileChangesOnDisk(t *testing.T) {
	at := quay(t, map[string]string{"deckhand.motet": deckhandRig})
	sheet := at("wait.motet")
	c := connect(t, m{"workspace": m{"didChangeWatchedFiles": m{"dynamicRegistration": true}}})
	var registered serverMessage
	c.wait("the wish to watch files", func() bool {
		for _, message := range c.asked {
			registered = message
		}
		return registered.Method == "client/registerCapability"
	})
	require.JSONEq(t, `{"registrations":[{"id":"files","method":"workspace/didChangeWatchedFiles",
		"registerOptions":{"watchers":[{"globPattern":"**/*.motet"}]}}]}`, string(registered.Params))

	c.open(sheet, deckhandSheet)
	require.Empty(t, c.diagnosticsOf(sheet, 1))
	path := uri.MustParse(at("deckhand.motet")).FsPath()
	for _, step := range []struct {
		change func() error
		kind   int
		want   string
	}{
		{func() error { return os.WriteFile(path, []byte(strings.Replace(deckhandRig, "nod", "dip", 1)), 0o644) }, 2, "12:10-12:13 unknown-name\n"},
		{func() error { return os.Remove(path) }, 3, "1:24-1:40 unknown-name\n"},
		{func() error { return os.WriteFile(path, []byte(deckhandRig), 0o644) }, 1, ""},
	} {
		require.NoError(t, step.change())
		c.notify("workspace/didChangeWatchedFiles", m{"changes": []m{{"uri": at("deckhand.motet"), "type": step.kind}}})
		c.settles(sheet, step.want)
	}
}

// What the client saw last must be what it typed last.
func TestFastTypingEndsWithTheLastVersion(t *testing.T) {
	at := quay(t, map[string]string{"deckhand.motet": deckhandRig})
	sheet := at("wait.motet")
	c := connect(t)
	c.open(sheet, deckhandSheet)
	const last = 201
	for version := 2; version <= last; version++ {
		line, text := 9, "x"
		if version%2 == 1 {
			c.change(sheet, version, part(line, 12, line, 13, ""))
			continue
		}
		c.change(sheet, version, part(line, 12, line, 12, text))
	}
	require.Empty(t, c.diagnosticsOf(sheet, last))
	require.NoError(t, c.stop())
	versions := 0
	for _, p := range c.pushes {
		require.Less(t, versions, *p.Version, "versions rise")
		versions = *p.Version
		if *p.Version%2 == 0 {
			require.NotEmpty(t, p.Diagnostics)
		} else {
			require.Empty(t, p.Diagnostics)
		}
	}
	require.Equal(t, last, versions)
}

// A rule that panics costs the diagnostics of that text, and nothing after it.
func TestAPanicInACheckCostsThatCheck(t *testing.T) {
	c := connect(t)
	c.open(sheetURI, "sheet whirlpool\n")
	c.change(sheetURI, 2, part(0, 6, 0, 15, "calm"))
	require.NotEmpty(t, c.diagnosticsOf(sheetURI, 2))
	require.JSONEq(t, "null", string(c.call("textDocument/hover", at(sheetURI, 0, 8))))
	c.open("file:///quay/other.motet", "sheet whirlpool\n")
	// The document opened last is checked first, and the server may end before it comes to the other one.
	require.Eventually(t, func() bool {
		return strings.Contains(c.log.String(), "checking file:///quay/other.motet failed: on purpose")
	}, patience, time.Millisecond)
	c.open("file:///quay/third.motet", "sheet calm\n")
	require.NotEmpty(t, c.diagnosticsOf("file:///quay/third.motet", 1))
	require.NoError(t, c.stop())
}

func TestAPanicInAPulledCheckIsAnError(t *testing.T) {
	c := connect(t, pulls)
	c.open(sheetURI, "sheet whirlpool\n")
	document := m{"textDocument": m{"uri": sheetURI}}
	for range 2 {
		require.Equal(t, internalError, c.refused("textDocument/diagnostic", document))
	}
	c.change(sheetURI, 2, part(0, 6, 0, 15, "calm"))
	c.call("textDocument/diagnostic", document)
}

// Not every client says initialized.
func TestDiagnosticsComeWithoutInitialized(t *testing.T) {
	c := dial(t)
	c.call("initialize", m{"processId": nil, "rootUri": nil, "capabilities": m{}})
	c.open(sheetURI, "shet a\n")
	require.NotEmpty(t, c.diagnosticsOf(sheetURI, 1))
	c.notify("initialized", m{})
	c.change(sheetURI, 2, whole("# calm\n"))
	require.Empty(t, c.diagnosticsOf(sheetURI, 2))
}

func TestPulledDiagnostics(t *testing.T) {
	at := quay(t, map[string]string{"deckhand.motet": deckhandRig})
	sheet := at("wait.motet")
	type report struct {
		Kind     string
		ResultID string
		Items    []diagnostic
	}
	c := connect(t, pulls)
	pull := func(previous string) report {
		params := m{"textDocument": m{"uri": sheet}}
		if previous != "" {
			params["previousResultId"] = previous
		}
		return parse[report](t, c.call("textDocument/diagnostic", params))
	}
	c.open(sheet, deckhandSheet)
	clean := pull("")
	require.Equal(t, "full", clean.Kind)
	require.Empty(t, clean.Items)
	require.Equal(t, report{Kind: "unchanged", ResultID: clean.ResultID}, pull(clean.ResultID))

	c.change(sheet, 2, part(6, 6, 6, 10, "hisp"))
	broken := pull(clean.ResultID)
	require.Equal(t, "6:6-6:10 unknown-name\n", rules(broken.Items))
	c.change(sheet, 3, part(0, 0, 0, 0, "# one line further down\n"))
	moved := pull(broken.ResultID)
	require.Equal(t, "7:6-7:10 unknown-name\n", rules(moved.Items))
	c.change(sheet, 4, part(0, 0, 1, 0, ""), part(6, 6, 6, 10, "hips"))
	require.Equal(t, "full", pull(moved.ResultID).Kind)
	require.Equal(t, "unchanged", pull(clean.ResultID).Kind, "the same text has the same answer")
}

func TestClientsThatPullAreToldWhenAFileChanges(t *testing.T) {
	at := quay(t, map[string]string{"deckhand.motet": deckhandRig})
	c := connect(t, pulls, m{"workspace": m{"diagnostics": m{"refreshSupport": true}}})
	c.open(at("wait.motet"), deckhandSheet)
	c.notify("workspace/didChangeWatchedFiles", m{"changes": []m{{"uri": at("deckhand.motet"), "type": 2}}})
	c.wait("the wish to be asked again", func() bool {
		return 0 < len(c.asked) && c.asked[len(c.asked)-1].Method == "workspace/diagnostic/refresh"
	})
}

// Files outside the project are not read, whether they are named outright, by climbing, or by a link.
func TestNothingOutsideTheProjectIsRead(t *testing.T) {
	at := quay(t, map[string]string{"secret/deckhand.motet": deckhandRig, "town/deckhand.motet": deckhandRig, "town/inn/x.txt": ""})
	town := uri.MustParse(at("town")).FsPath()
	secret := uri.MustParse(at("secret/deckhand.motet")).FsPath()
	require.NoError(t, os.Symlink(secret, filepath.Join(town, "link.motet")))
	require.NoError(t, os.Symlink(filepath.Join(town, "deckhand.motet"), filepath.Join(town, "absolute.motet")))
	require.NoError(t, os.Symlink("deckhand.motet", filepath.Join(town, "near.motet")))
	for _, row := range []struct {
		sheet, names string
		found        bool
	}{
		{"town/wait.motet", "deckhand.motet", true},
		{"town/inn/wait.motet", "../deckhand.motet", true},
		{"town/wait.motet", "near.motet", true},
		{"town/wait.motet", "link.motet", false},
		{"town/wait.motet", "../secret/deckhand.motet", false},
		{"town/inn/wait.motet", "../../secret/deckhand.motet", false},
		{"town/wait.motet", secret, false},
		{"town/wait.motet", "inn", false},
		{"town/wait.motet", "none.motet", false},
	} {
		t.Run(row.sheet+" "+row.names, func(t *testing.T) {
			c := connect(t, m{"rootUri": at("town")})
			c.open(at(row.sheet), strings.Replace(deckhandSheet, "deckhand.motet", row.names, 1))
			found := c.diagnosticsOf(at(row.sheet), 1)
			require.Equal(t, row.found, len(found) == 0, "%v", found)
			for _, d := range found {
				require.Equal(t, "unknown-name", d.Code)
			}
		})
	}
}

// Without a folder of the client's, a sheet's project is its own folder.
func TestASheetAloneSeesItsOwnFolder(t *testing.T) {
	at := quay(t, map[string]string{"town/deckhand.motet": deckhandRig, "deckhand.motet": deckhandRig})
	c := connect(t)
	c.open(at("town/a.motet"), deckhandSheet)
	require.Empty(t, c.diagnosticsOf(at("town/a.motet"), 1))
	c.open(at("town/b.motet"), strings.Replace(deckhandSheet, "deckhand.motet", "../deckhand.motet", 1))
	require.Equal(t, "1:24-1:43 unknown-name\n", rules(c.diagnosticsOf(at("town/b.motet"), 1)))
	c.open("untitled:one", deckhandSheet)
	require.Contains(t, c.diagnosticsOf("untitled:one", 1)[0].Message, "not saved yet")
	c.notify("workspace/didChangeWorkspaceFolders", m{"event": m{"added": []m{{"uri": at(""), "name": "quay"}}, "removed": []m{}}})
	c.settles(at("town/b.motet"), "") // the folder is the client's now
}

// The editor and the command line must agree on what a sheet may name: both go by version control, then by house rules.
func TestTheFolderOfAProject(t *testing.T) {
	for _, row := range []struct {
		name    string
		files   map[string]string
		folders []string
		want    string
	}{
		{"version control above", map[string]string{"quay/.git/HEAD": "", "quay/town/house.motet": ""}, []string{"quay/town/inn"}, "quay"},
		{"the nearest of two", map[string]string{"quay/.git/HEAD": "", "quay/town/.git": "gitdir: x"}, nil, "quay/town"},
		{"the outermost house", map[string]string{"quay/house.motet": "", "quay/town/house.motet": ""}, []string{"quay/town"}, "quay"},
		{"the client's outermost folder", nil, []string{"quay/town/inn", "quay/town", "other"}, "quay/town"},
		{"a folder that only begins alike", nil, []string{"quay/tow"}, "quay/town/inn"},
		{"none", nil, nil, "quay/town/inn"},
	} {
		t.Run(row.name, func(t *testing.T) {
			if row.files == nil {
				row.files = map[string]string{}
			}
			row.files["quay/town/inn/wait.motet"] = ""
			at := quay(t, row.files)
			path := func(name string) string { return uri.MustParse(at(name)).FsPath() }
			var folders []string
			for _, f := range row.folders {
				folders = append(folders, path(f))
			}
			require.Equal(t, path(row.want), projectRoot(path("quay/town/inn/wait.motet"), folders))
		})
	}
}
