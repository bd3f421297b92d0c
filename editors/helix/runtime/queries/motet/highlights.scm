; Made by `go test ./editors/colours -update` from the grammar's tables; not to be changed by hand.
(block_word) @keyword.control
(entry_word) @variable.other.member
(clause_word) @keyword.operator
(choice_word) @constant.builtin
(column_word) @attribute
(title) @function
(name) @variable
(path) @variable.other.member
(pattern) @variable.other.member
(number) @constant.numeric
(time) @constant.numeric
(marked) @constant.numeric
(text) @string
(empty) @punctuation
(wrong) @error
(comment) @comment.line
