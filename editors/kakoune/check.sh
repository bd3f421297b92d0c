#!/bin/sh
# Run by debian13_test.go: opens the sheet named in MOTET_FILE, works on it, saves it, and prints one line for each thing
# that was seen to work. Kakoune draws as JSON, so that what it shows can be read; commands come by its session.
cd "$(dirname "$MOTET_FILE")" || exit 1
say() { if [ "$1" = 0 ]; then echo "ok $2 $3"; else echo "FAIL $2 $3"; fi; }

# As the README says: the two files in a folder that Kakoune loads, with the system's own beside them.
mkdir -p "$HOME/.config/kak/autoload"
ln -s /usr/share/kak/autoload "$HOME/.config/kak/autoload/system"
cp "$MOTET_EDITORS_FOLDER"/kakoune/*.kak "$HOME/.config/kak/autoload/"

mkfifo "$HOME/keys"
export XDG_RUNTIME_DIR="$HOME"
kak -s check -ui json "$MOTET_FILE" <"$HOME/keys" >"$HOME/screen" 2>"$HOME/errors" &
exec 3>"$HOME/keys"
echo '{"jsonrpc":"2.0","method":"resize","params":[24,90]}' >&3
tell() { printf '%s\n' "evaluate-commands -client client0 %~$1~" | kak -p check; }
# await FILE EXPRESSION: waits until a file has a line that matches.
await() {
  tries=0
  until grep -qE "$2" "$1" 2>/dev/null; do
    tries=$((tries + 1))
    [ "$tries" -lt 200 ] || return 1
    sleep 0.1
  done
}

await "$HOME/screen" '"fg": "blue"[^}]*}, "contents": "track"'
say $? colours
tell 'lint-buffer'
counted() { tell "echo -to-file $HOME/lint \"%opt{lint_error_count} %opt{lint_warning_count} %opt{lint_messages}\""; sleep 0.2; }
for _ in 1 2 3 4 5 6 7 8 9 10 11 12 13 14 15 16 17 18 19 20; do
  counted
  grep -q '^1 1 ' "$HOME/lint" 2>/dev/null && break
  sleep 0.5
done
grep -q '^1 1 .*off-beat: head/nod turns.*seam-gap: head/turn is' "$HOME/lint"
say $? lint "$(cut -c1-60 "$HOME/lint")"
tell 'format'
tell 'write'
await "$MOTET_FILE" '^  4b      1.5     2$'
say $? format
tell 'kill!'
wait
[ -s "$HOME/errors" ] && { say 1 silence "$(cat "$HOME/errors")"; }
exit 0
