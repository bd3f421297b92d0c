" What a buffer with a motion sheet needs. `:MotetFormat` writes it in the canonical form; with
" `let g:motet_format_on_save = 1` in your vimrc, every save does.
if exists('b:did_ftplugin')
  finish
endif
let b:did_ftplugin = 1

setlocal commentstring=#\ %s comments=:# expandtab shiftwidth=2 softtabstop=2 autoindent
setlocal iskeyword+=-,.
" A block folds below its first line.
setlocal foldmethod=expr foldexpr=getline(v:lnum)=~#'^[^\ \\t#]'?'>1':'=' foldlevel=99
let b:undo_ftplugin = 'setlocal commentstring< comments< expandtab< shiftwidth< softtabstop< autoindent< iskeyword< foldmethod< foldexpr< foldlevel<'

command! -buffer -bar MotetFormat call motet#Format()
if executable('motet') && get(b:, 'current_compiler', '') ==# ''
  compiler motet
endif

augroup motet_format
  autocmd! * <buffer>
  autocmd BufWritePre <buffer> if get(g:, 'motet_format_on_save', 0) | call motet#Format() | endif
augroup END
