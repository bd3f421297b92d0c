" `:make` runs `motet check` on the sheet, and its reports become the list of errors.
if exists('current_compiler')
  finish
endif
let current_compiler = 'motet'

CompilerSet makeprg=motet\ check\ %:S
CompilerSet errorformat=%E%f:%l:%c:\ error\ %m,%W%f:%l:%c:\ warning\ %m,%I%f:%l:%c:\ note\ %m,%-G%.%#
