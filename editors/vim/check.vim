" Run by editors_test.go: opens the sheet named in $MOTET_FILE, works on it through ALE, saves it, and writes one line into
" $MOTET_OUT for each thing that was seen to work.
set nocompatible nomore shortmess+=I hidden
packadd! ale
let g:ale_lint_delay = 50
let g:ale_echo_cursor = 0
let g:ale_hover_to_preview = 1
let g:ale_linters = {'motet': ['motet']}
filetype plugin on
syntax on
runtime plugin/ale.vim
let s:out = []

function! s:say(name, ok, extra) abort
  call add(s:out, (a:ok ? 'ok ' : 'FAIL ') . a:name . ' ' . a:extra)
endfunction

function! s:wait(test) abort
  let tries = 0
  while !eval(a:test) && tries < 1200
    sleep 50m
    let tries += 1
  endwhile
  return eval(a:test)
endfunction

function! Codes() abort
  return join(sort(map(copy(ale#engine#GetLoclist(bufnr('%'))), {_, item -> get(item, 'code', '')})), ' ')
endfunction

function! Preview() abort
  return join(getbufline('ALEPreviewWindow', 1, '$'), ' | ')
endfunction

function! Choose(items) abort
  for item in a:items
    if item[1].title =~# 'end where the cycle starts'
      call ale#codefix#ApplyLSPCodeAction(s:data, item[1])
    endif
  endfor
endfunction

try
  execute 'edit ' . fnameescape($MOTET_FILE)
  let s:sheet = bufnr('%')
  call s:say('colours', synIDattr(synIDtrans(synID(1, 1, 1)), 'name') ==# 'Statement', &filetype)
  call ale#Queue(0, 'lint_file')
  call s:wait('Codes() ==# "off-beat seam-gap"')
  call s:say('diagnostics', Codes() ==# 'off-beat seam-gap', Codes())

  call search('^  2b', 'w')
  call cursor(line('.'), 11)
  ALEHover
  call s:wait('Preview() !=# ""')
  call s:say('hover', Preview() =~# 'head/nod', Preview()[:60])
  execute bufwinnr(s:sheet) . 'wincmd w'

  call search('^track', 'w')
  call cursor(line('.'), 8)
  " ALE completes in insert mode only, in which no script can wait; so it is told that it is.
  call ale#util#Mode()
  function! ale#util#Mode(...) abort
    return 'i'
  endfunction
  call ale#completion#OmniFunc(1, '')
  call s:wait('ale#completion#GetCompletionResult() isnot v:null')
  let s:found = map(copy(ale#completion#GetCompletionResult()), {_, item -> item.word})
  call s:say('completion', index(s:found, 'head') >= 0, join(s:found)[:60])

  function! ale#util#Mode(...) abort
    return call('mode', a:000)
  endfunction

  MotetFormat
  call s:say('format', getline('$') ==# '  4b      1.5     2', getline('$'))

  call s:wait('Codes() ==# "off-beat seam-gap"')
  call cursor(line('$'), 19)
  function! s:fix(data, items) abort
    let s:data = a:data
    call Choose(a:items)
  endfunction
  call ale#codefix#Execute(0, function('s:fix'))
  call s:wait('getline("$") ==# "  4b      1.5     4"')
  call s:say('mend', getline('$') ==# '  4b      1.5     4', getline('$'))
  write

  make
  call s:say('compiler', len(filter(getqflist(), {_, item -> item.valid})) == 1, string(map(getqflist(), {_, item -> item.text}))[:80])
catch
  call s:say('no error', 0, v:exception . ' ' . v:throwpoint)
endtry
call writefile(s:out, $MOTET_OUT)
quitall!
