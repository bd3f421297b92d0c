package colours

// role is what a stretch of a sheet is to the reader. Each has one name in every editor's own list of colours.
type role struct {
	name string // of the tree-sitter node that it is, where it has one
	// textMate is a scope (TextMate's manual, "Language Grammars", section 12.4, naming conventions; from memory).
	textMate string
	vim      string // a group of Vim's ":help group-name"
	emacs    string // a face of Emacs's font-lock
	neovim   string // a capture of nvim-treesitter's CONTRIBUTING.md (from memory)
	hx       string // a scope of Helix's "Themes" page (from memory)
	kate     string // a default style of Kate's "Working with Syntax Highlighting" (from memory)
	kakoune  string // a face of Kakoune's ":doc faces"
}

func (r role) nvim() string  { return r.neovim }
func (r role) helix() string { return r.hx }
func (r role) zed() string   { return r.neovim }

var (
	blockRole   = role{"block_word", "keyword.control.block", "Statement", "font-lock-keyword-face", "keyword", "keyword.control", "dsKeyword", "keyword"}
	entryRole   = role{"entry_word", "support.type.property-name", "Type", "font-lock-type-face", "property", "variable.other.member", "dsDataType", "type"}
	clauseRole  = role{"clause_word", "keyword.other.clause", "Keyword", "font-lock-keyword-face", "keyword", "keyword.operator", "dsOperator", "operator"}
	choiceRole  = role{"choice_word", "constant.language", "Constant", "font-lock-constant-face", "constant.builtin", "constant.builtin", "dsConstant", "value"}
	columnRole  = role{"column_word", "entity.other.attribute-name", "Identifier", "font-lock-variable-name-face", "attribute", "attribute", "dsAttribute", "attribute"}
	titleRole   = role{"title", "entity.name.section", "Function", "font-lock-function-name-face", "function", "function", "dsFunction", "function"}
	nameRole    = role{"name", "variable.other", "", "", "variable", "variable", "dsNormal", "variable"}
	pathRole    = role{"path", "variable.other.member", "Identifier", "font-lock-variable-name-face", "property", "variable.other.member", "dsVariable", "variable"}
	patternRole = role{"pattern", "variable.other.member.pattern", "Special", "font-lock-variable-name-face", "property", "variable.other.member", "dsVariable", "variable"}
	numberRole  = role{"number", "constant.numeric", "Number", "", "number", "constant.numeric", "dsDecVal", "value"}
	timeRole    = role{"time", "constant.numeric.time", "Number", "font-lock-constant-face", "number", "constant.numeric", "dsBaseN", "value"}
	markedRole  = role{"marked", "constant.numeric.marked", "Number", "", "number", "constant.numeric", "dsDecVal", "value"}
	markRole    = role{"", "keyword.operator.mark", "Operator", "font-lock-builtin-face", "operator", "operator", "dsOperator", "operator"}
	textRole    = role{"text", "string.quoted.double", "String", "font-lock-string-face", "string", "string", "dsString", "string"}
	emptyRole   = role{"empty", "punctuation.definition.empty", "Comment", "shadow", "punctuation.delimiter", "punctuation", "dsComment", "comment"}
	wrongRole   = role{"wrong", "invalid.illegal", "Error", "error", "error", "error", "dsError", "Error"}
	commentRole = role{"comment", "comment.line.number-sign", "Comment", "font-lock-comment-face", "comment", "comment.line", "dsComment", "comment"}
	allowRole   = role{"allowance", "keyword.other.allow", "PreProc", "font-lock-preprocessor-face", "comment", "comment.line", "dsAnnotation", "meta"}
)
