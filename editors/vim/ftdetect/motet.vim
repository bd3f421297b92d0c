autocmd BufRead,BufNewFile *.motet setfiletype motet
