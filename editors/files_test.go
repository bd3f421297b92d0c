package editors

import (
	"encoding/json"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/motet-sheet/motet/lint/motion/reference"
)

// ours are the files of all editors that have an ending, without what npm and VS Code's bundler put there.
func ours(t *testing.T, ending string) []string {
	t.Helper()
	var out []string
	require.NoError(t, filepath.WalkDir(".", func(path string, d fs.DirEntry, err error) error {
		if d != nil && d.IsDir() && (d.Name() == "node_modules" || d.Name() == "dist") {
			return fs.SkipDir
		}
		if strings.HasSuffix(path, ending) {
			out = append(out, path)
		}
		return err
	}))
	require.NotEmpty(t, out)
	return out
}

func parsed[T any](t *testing.T, path string) (v T) {
	t.Helper()
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(text, &v), path)
	return v
}

func TestJSONIsJSON(t *testing.T) {
	for _, path := range append(ours(t, ".json"), ours(t, ".sublime-settings")...) {
		parsed[any](t, path)
	}
}

// asPython has Python's standard library read files, one of whose values none of ours may lack, and gives them as JSON.
func asPython[T any](t *testing.T, script, path string) (v T) {
	t.Helper()
	out, err := exec.Command(reference.Program(t, "python3"), "-c", "import json, plistlib, sys, tomllib\nwith open(sys.argv[1], 'rb') as f: print(json.dumps("+script+"))", path).CombinedOutput()
	require.NoError(t, err, "%s: %s", path, out)
	require.NoError(t, json.Unmarshal(out, &v))
	return v
}

// Sublime Text reads the rules of VS Code as a property list; those are run by VS Code's own engine in another test.
func TestSublimeHasTheRulesOfVSCode(t *testing.T) {
	sublime := asPython[map[string]any](t, "plistlib.load(f)", "sublime/Motet.tmLanguage")
	code := parsed[map[string]any](t, "vscode/syntaxes/motet.tmLanguage.json")
	require.Equal(t, []any{"motet"}, sublime["fileTypes"])
	for _, key := range []string{"scopeName", "patterns", "repository"} {
		require.Equal(t, code[key], sublime[key], key)
	}
	client := parsed[struct {
		Clients map[string]struct {
			Enabled  bool
			Command  []string
			Selector string
		}
	}](t, "sublime/LSP.sublime-settings").Clients["motet"]
	require.Equal(t, code["scopeName"], client.Selector)
	require.Equal(t, []string{"motet", "serve"}, client.Command)
}

// The keys are those of Zed's pages "Developing Extensions" and "Language Extensions" (from memory).
func TestZedFilesHaveWhatZedReads(t *testing.T) {
	type object = map[string]any
	manifest := asPython[object](t, "tomllib.load(f)", "zed/extension.toml")
	for _, key := range []string{"id", "name", "version", "schema_version", "authors"} {
		require.Contains(t, manifest, key)
	}
	grammars := manifest["grammars"].(object)
	language := asPython[object](t, "tomllib.load(f)", "zed/languages/motet/config.toml")
	require.Contains(t, grammars, language["grammar"], "the language's grammar is one of the manifest's")
	source := grammars["motet"].(object)
	require.FileExists(t, filepath.Join("..", source["path"].(string), "src", "parser.c"))
	require.Equal(t, []any{"motet"}, language["path_suffixes"])
	known := []string{"name", "grammar", "path_suffixes", "line_comments", "tab_size", "hard_tabs", "autoclose_before", "brackets", "word_characters"}
	for key := range language {
		require.Contains(t, known, key)
	}
}

func TestKateAsksForOurServer(t *testing.T) {
	server := parsed[struct {
		Servers map[string]struct {
			Command                 []string
			RootIndicationFileNames []string
			HighlightingModeRegex   string
		}
	}](t, "kate/lsp.json").Servers["motet"]
	require.Equal(t, []string{"motet", "serve"}, server.Command)
	require.Contains(t, server.RootIndicationFileNames, ".git")
	require.Equal(t, "^Motet$", server.HighlightingModeRegex) // the name in motet.xml
}

// Every query names only nodes that the parser has, or it would give no colours at all.
func TestQueriesFitTheParser(t *testing.T) {
	nvim, cc := reference.Program(t, "nvim"), reference.Program(t, "cc")
	parser := filepath.Join(t.TempDir(), "motet.so")
	out, err := exec.Command(cc, "-shared", "-fPIC", "-O1", "-Itree-sitter-motet/src", "-o", parser, "tree-sitter-motet/src/parser.c").CombinedOutput()
	require.NoError(t, err, string(out))
	queries := ours(t, ".scm")
	require.GreaterOrEqual(t, len(queries), 4)
	script := `lua (vim.treesitter.require_language or function(l, p) vim.treesitter.language.add(l, { path = p }) end)('motet', '` + parser + `')
lua parse = vim.treesitter.parse_query or (vim.treesitter.query.parse or vim.treesitter.query.parse_query)
`
	for _, query := range queries {
		script += "lua local ok, why = pcall(parse, 'motet', io.open('" + query + "'):read('*a')); io.stdout:write(ok and 'ok ' or 'FAIL ', '" + query + " ', ok and '' or tostring(why), '\\n')\n"
	}
	file := filepath.Join(t.TempDir(), "queries.vim")
	require.NoError(t, os.WriteFile(file, []byte(script+"qall!\n"), 0o600))
	out, err = exec.Command(nvim, "--headless", "--clean", "-n", "-u", "NONE", "-S", file).CombinedOutput()
	require.NoError(t, err, string(out))
	for _, query := range queries {
		require.Contains(t, string(out), "ok "+query, string(out))
	}
}
