# Motion sheets in Kakoune: source this file and motet-words.kak from your kakrc.
hook global BufCreate .*[.]motet %{
    set-option buffer filetype motet
}

hook global WinSetOption filetype=motet %{
    add-highlighter window/motet ref motet
    set-option buffer comment_line '#'
    set-option buffer indentwidth 2
    set-option buffer formatcmd 'motet format -'
    set-option buffer lintcmd 'sh -c ''motet check "$1" | grep -E "^[^ ]+:[0-9]+:[0-9]+: " | sed "s/: note /: warning /"'' --'
    hook -once -always window WinSetOption filetype=.* %{ remove-highlighter window/motet }
}
