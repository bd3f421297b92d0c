" ALE speaks to motet's language server. `motet` must be on the path, or say where it is by g:ale_motet_executable.
call ale#Set('motet_executable', 'motet')

" The project is the nearest folder above the sheet that is under version control or has house rules.
function! ale_linters#motet#motet#ProjectRoot(buffer) abort
  let git = ale#path#FindNearestDirectory(a:buffer, '.git')
  let house = ale#path#FindNearestFile(a:buffer, 'house.motet')
  if !empty(git)
    return fnamemodify(git, ':h:h')
  endif
  return fnamemodify(empty(house) ? bufname(a:buffer) : house, ':p:h')
endfunction

call ale#linter#Define('motet', {
\   'name': 'motet',
\   'lsp': 'stdio',
\   'language': 'motet',
\   'executable': {b -> ale#Var(b, 'motet_executable')},
\   'command': '%e serve',
\   'project_root': function('ale_linters#motet#motet#ProjectRoot'),
\})
