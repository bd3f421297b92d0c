package server

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// A line on standard output in the midst of the protocol's messages ends the session. So nothing that the server is
// made of may name standard output, or print to it.
func TestNothingPrintsToStandardOutput(t *testing.T) {
	files := 0
	for _, folder := range []string{".", "../grammar", "../lint"} {
		err := filepath.WalkDir(folder, func(path string, _ fs.DirEntry, err error) error {
			if err != nil || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
				return err
			}
			files++
			tree, err := parser.ParseFile(token.NewFileSet(), path, nil, 0)
			for _, found := range printing(tree) {
				t.Errorf("%s uses %s", path, found)
			}
			return err
		})
		require.NoError(t, err)
	}
	require.Less(t, 30, files)
}

// printing are the names in a file that write to standard output.
func printing(tree *ast.File) (found []string) {
	ast.Inspect(tree, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.SelectorExpr:
			pkg, ok := n.X.(*ast.Ident)
			if !ok {
				return true
			}
			switch name := pkg.Name + "." + n.Sel.Name; name {
			case "os.Stdout", "fmt.Print", "fmt.Printf", "fmt.Println":
				found = append(found, name)
			}
		case *ast.CallExpr:
			if name, ok := n.Fun.(*ast.Ident); ok && (name.Name == "print" || name.Name == "println") {
				found = append(found, name.Name)
			}
		}
		return true
	})
	return found
}

func TestThatPrintingIsFound(t *testing.T) {
	tree, err := parser.ParseFile(token.NewFileSet(), "x.go", `package x
import ("fmt"; "os")
func f() { fmt.Println(1); println(2); fmt.Fprint(os.Stdout); fmt.Fprint(os.Stderr) }`, 0)
	require.NoError(t, err)
	require.Equal(t, []string{"fmt.Println", "println", "os.Stdout"}, printing(tree))
}
