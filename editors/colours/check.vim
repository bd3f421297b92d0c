" Run by real_test.go: reads the request in $MOTET_ASK, [{file, places: [[line, byte], …]}, …], and writes into
" $MOTET_ANSWER for each file the highlight group at each place, links followed.
set encoding=utf-8 nomore fileformats=unix,dos
syntax on
" Groups that are links to each other by default are told apart.
for s:group in ['Number', 'Function', 'Keyword', 'Operator', 'Type', 'Special', 'PreProc', 'String', 'Identifier', 'Constant', 'Statement', 'Comment', 'Error']
  execute 'highlight link' s:group 'NONE'
  execute 'highlight' s:group 'ctermfg=1'
endfor
let s:answers = []
for s:ask in json_decode(join(readfile($MOTET_ASK), "\n"))
  execute 'edit ' . fnameescape(s:ask.file)
  set syntax=motet
  syntax sync fromstart
  call add(s:answers, map(copy(s:ask.places), {_, at -> synIDattr(synIDtrans(synID(at[0], at[1], 1)), 'name')}))
endfor
call writefile([json_encode(s:answers)], $MOTET_ANSWER)
quitall!
