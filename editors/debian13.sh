#!/usr/bin/env bash
# debian13.sh FOLDER: puts Debian 13 with its newer editors into a folder, once, for the tests that MOTET_DEBIAN13=1 asks
# for. It comes from the mirror that this machine takes its own packages from; of the machine itself nothing changes but
# that mmdebstrap is installed where it is missing. Needs root.
set -euo pipefail
folder=$1
packages=neovim,hx,emacs-nox,kakoune,tree-sitter-cli,libkf5syntaxhighlighting-tools
[[ -e "$folder/.motet-made" ]] && exit 0
command -v mmdebstrap >/dev/null || { apt-get update -qq && apt-get install -qq -y --no-install-recommends mmdebstrap; }
mirror=$(awk '/^URIs:/ { print $2; exit } /^deb / { print $2; exit }' /etc/apt/sources.list.d/debian.sources /etc/apt/sources.list 2>/dev/null)
rm -rf "$folder"
mkdir -p "$(dirname "$folder")"
mmdebstrap --quiet --variant=apt --include="$packages" --aptopt='Apt::Install-Recommends "false"' \
  --dpkgopt='path-exclude=/usr/share/doc/*' --dpkgopt='path-exclude=/usr/share/man/*' --dpkgopt='path-exclude=/usr/share/locale/*' \
  trixie "$folder" "deb [signed-by=/usr/share/keyrings/debian-archive-keyring.gpg] ${mirror:-http://deb.debian.org/debian} trixie main"
[[ -c "$folder/dev/null" ]] || { rm -f "$folder/dev/null" && mknod -m 666 "$folder/dev/null" c 1 3; }
touch "$folder/.motet-made"
