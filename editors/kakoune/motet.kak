# Motion sheets in Kakoune: source this file and motet-words.kak from your kakrc.
hook global BufCreate .*[.]motet %{
    set-option buffer filetype motet
}

hook global WinSetOption filetype=motet %{
    add-highlighter window/motet ref motet
    set-option buffer comment_line '#'
    set-option buffer indentwidth 2
    set-option buffer formatcmd 'motet format -'
    # Kakoune gives a copy of the text, in a folder of its own, where a sheet finds neither its rig nor its base: so the
    # file is checked as it was saved. A report's second line is its message.
    set-option buffer lintcmd %{motet check "$kak_buffile" | awk '/:[0-9]+:[0-9]+: (error|warning|note) [a-z-]+$/ { where = $0; next } where != "" && /^  [^ |]/ && !/^ *[0-9]+ *[|]/ { sub(/^ +/, ""); print where ": " $0; where = "" }' #}
    hook -once -always window WinSetOption filetype=.* %{ remove-highlighter window/motet }
}
