" Motet in Vim: what needs more than a setting.

" Puts the buffer into the canonical form by `motet format -`. A text that motet can't format stays as it is.
function! motet#Format() abort
  let lines = systemlist('motet format -', getline(1, '$'))
  if v:shell_error
    echohl ErrorMsg | echomsg 'motet format: ' . join(lines, ' ') | echohl None
    return
  endif
  if lines ==# getline(1, '$')
    return
  endif
  let view = winsaveview()
  call setline(1, lines)
  if line('$') > len(lines)
    silent execute (len(lines) + 1) . ',$delete _'
  endif
  call winrestview(view)
endfunction
