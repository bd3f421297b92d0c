// Package colours writes the files by which editors colour motion sheets. All are made of one list: the words and tables of
// the grammar, and the roles of roles.go. A test holds the files to it, so that no word of the language can be forgotten in
// one of them.
package colours

// Files gives the text of every generated file, by its path below the folder editors.
func Files() map[string]string {
	blocks := readBlocks()
	files := map[string]string{
		"vscode/syntaxes/motet.tmLanguage.json":      textMateJSON(blocks),
		"sublime/Motet.tmLanguage":                   textMatePlist(blocks),
		"vim/syntax/motet.vim":                       vimSyntax(blocks),
		"emacs/motet-words.el":                       emacsWords(blocks),
		"kate/motet.xml":                             kateSyntax(blocks),
		"tree-sitter-motet/words.json":               treeSitterWords(blocks),
		"tree-sitter-motet/queries/highlights.scm":   queries(role.nvim),
		"neovim/queries/motet/highlights.scm":        queries(role.nvim),
		"helix/runtime/queries/motet/highlights.scm": queries(role.helix),
		"zed/languages/motet/highlights.scm":         queries(role.zed),
		"kakoune/motet-words.kak":                    kakouneWords(blocks),
	}
	return files
}
