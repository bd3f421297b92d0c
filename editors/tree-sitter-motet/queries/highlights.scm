; Made by `go test ./editors/colours -update` from the grammar's tables; not to be changed by hand.
(block_word) @keyword
(entry_word) @property
(clause_word) @keyword
(choice_word) @constant.builtin
(column_word) @attribute
(title) @function
(name) @variable
(path) @property
(pattern) @property
(number) @number
(time) @number
(marked) @number
(text) @string
(empty) @punctuation.delimiter
(wrong) @error
(comment) @comment
