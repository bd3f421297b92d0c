package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const module = "github.com/motet-sheet/motet"

// topLevel is all that the top level holds, besides dot files and what .gitignore names.
var topLevel = []string{"DEVELOPERS.md", "README.md", "cmd", "editors", "go.mod", "go.sum", "grammar", "lint", "server", "testdata"}

func TestTopLevel(t *testing.T) {
	entries, err := os.ReadDir("../..")
	require.NoError(t, err)
	ignored, err := os.ReadFile("../../.gitignore")
	require.NoError(t, err)
	for _, entry := range entries {
		name := entry.Name()
		if strings.HasPrefix(name, ".") || slices.Contains(strings.Fields(string(ignored)), "/"+name) {
			continue
		}
		assert.Contains(t, topLevel, name)
	}
}

// goFiles are the parsed files of a package that are no tests, by path from the project's root.
type goFiles map[string]*ast.File

// sources parses all packages, by folder from the project's root.
func sources(t *testing.T, set *token.FileSet) map[string]goFiles {
	t.Helper()
	packages := map[string]goFiles{}
	root := os.DirFS("../..")
	require.NoError(t, fs.WalkDir(root, ".", func(name string, entry fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case entry.IsDir() && (entry.Name() == "testdata" || strings.HasPrefix(entry.Name(), ".") && name != "."):
			return fs.SkipDir
		case entry.IsDir() || !strings.HasSuffix(name, ".go") || strings.HasSuffix(name, "_test.go"):
			return nil
		}
		text, err := fs.ReadFile(root, name)
		if err != nil {
			return err
		}
		file, err := parser.ParseFile(set, name, text, parser.SkipObjectResolution)
		if err != nil {
			return err
		}
		folder := path.Dir(name)
		if packages[folder] == nil {
			packages[folder] = goFiles{}
		}
		packages[folder][name] = file
		return nil
	}))
	return packages
}

// importTable reads the table of packages in DEVELOPERS.md: what each may import of ours.
func importTable(t *testing.T) map[string][]string {
	t.Helper()
	text, err := os.ReadFile("../../DEVELOPERS.md")
	require.NoError(t, err)
	quoted := regexp.MustCompile("`([^`]+)`")
	table := map[string][]string{}
	in := false
	for line := range strings.Lines(string(text)) {
		cells := strings.Split(strings.TrimSpace(line), "|")
		switch {
		case strings.HasPrefix(line, "| package |"):
			in = true
		case !strings.HasPrefix(line, "|"):
			in = false
		case in && len(cells) == 5 && !strings.Contains(line, "---"):
			name := quoted.FindStringSubmatch(cells[1])[1]
			table[name] = []string{}
			for _, m := range quoted.FindAllStringSubmatch(cells[3], -1) {
				table[name] = append(table[name], m[1])
			}
		}
	}
	return table
}

func importsOf(f *ast.File) []string {
	var out []string
	for _, spec := range f.Imports {
		name, _ := strconv.Unquote(spec.Path.Value)
		out = append(out, name)
	}
	return out
}

func TestPackagesImportWhatTheTableAllows(t *testing.T) {
	table := importTable(t)
	set := token.NewFileSet()
	packages := sources(t, set)
	for folder, files := range packages {
		allowed, listed := table[folder]
		if !assert.True(t, listed, "DEVELOPERS.md's table lacks the package %s", folder) {
			continue
		}
		used := map[string]bool{}
		for name, file := range files {
			for _, imported := range importsOf(file) {
				ours, ok := strings.CutPrefix(imported, module+"/")
				if !ok {
					continue
				}
				used[ours] = true
				assert.Contains(t, allowed, ours, "%s imports it, but DEVELOPERS.md's table does not allow that", name)
			}
		}
		for _, ours := range allowed {
			assert.True(t, used[ours], "the table allows %s to import %s, which it does not", folder, ours)
		}
	}
	for folder := range table {
		assert.Contains(t, packages, folder, "DEVELOPERS.md's table has a package that is not there")
	}
}

// TestTheDomainTouchesNothing holds that the packages which think do no input or output.
func TestTheDomainTouchesNothing(t *testing.T) {
	forbidden := []string{"os", "os/exec", "io/fs", "io/ioutil", "log", "log/slog", "net", "net/http", "path/filepath", "syscall", "time"}
	packages := sources(t, token.NewFileSet())
	for _, folder := range []string{"grammar", "lint", "lint/motion", "lint/draw"} {
		for name, file := range packages[folder] {
			for _, imported := range importsOf(file) {
				assert.NotContains(t, forbidden, imported, "%s imports it", name)
			}
		}
	}
}

// TestNothingHappensBehindTheBack holds that no package has an init function, and that only the command line prints.
func TestNothingHappensBehindTheBack(t *testing.T) {
	printing := map[string][]string{"fmt": {"Print", "Printf", "Println"}, "os": {"Stdout", "Stderr", "Stdin"}}
	set := token.NewFileSet()
	for _, files := range sources(t, set) {
		for name, file := range files {
			for _, d := range file.Decls {
				if f, ok := d.(*ast.FuncDecl); ok && f.Recv == nil {
					assert.NotEqual(t, "init", f.Name.Name, "%s has an init function", name)
				}
			}
			ast.Inspect(file, func(n ast.Node) bool {
				switch n := n.(type) {
				case *ast.SelectorExpr:
					from, ok := n.X.(*ast.Ident)
					if ok && name != "cmd/motet/main.go" && slices.Contains(printing[from.Name], n.Sel.Name) {
						t.Errorf("%s uses %s.%s; it is given what to write to", set.Position(n.Pos()), from.Name, n.Sel.Name)
					}
				case *ast.CallExpr:
					if f, ok := n.Fun.(*ast.Ident); ok && (f.Name == "print" || f.Name == "println") {
						t.Errorf("%s uses %s", set.Position(n.Pos()), f.Name)
					}
				}
				return true
			})
		}
	}
}

// TestNamesThatSayNothing holds that no package is named for what belongs nowhere.
func TestNamesThatSayNothing(t *testing.T) {
	for folder := range sources(t, token.NewFileSet()) {
		for part := range strings.SplitSeq(filepath.ToSlash(folder), "/") {
			assert.NotContains(t, []string{"util", "utils", "common", "helper", "helpers", "internal", "misc", "pkg"}, part, "%s", folder)
		}
	}
}
