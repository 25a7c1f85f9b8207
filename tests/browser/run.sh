#!/bin/sh
# Opens and plays the pages that `cargo test --test outputs` wrote, and works the live page of the program ($LOSTLINK, else the release
# build). Does nothing, and says so, where node or Chromium is missing.
#   tests/browser/run.sh [FOLDER [PICTURES]]
set -eu
here=$(cd "$(dirname "$0")" && pwd)
folder=${1:-"$here/../../target/tmp/pages"}
browser=${CHROMIUM:-/usr/bin/chromium}
if ! command -v node >/dev/null || ! command -v npm >/dev/null || [ ! -x "$browser" ]; then
    echo "browser test left out: it needs node, npm and Chromium ($browser)"
    exit 0
fi
[ -d "$here/node_modules/playwright-core" ] || (cd "$here" && npm ci --no-audit --no-fund)
CHROMIUM="$browser" node "$here/check.mjs" "$folder" ${2:+"$2"}
CHROMIUM="$browser" node "$here/player.mjs" "$folder"
CHROMIUM="$browser" node "$here/lesson.mjs" "$folder"
CHROMIUM="$browser" node "$here/live.mjs" "${LOSTLINK:-$here/../../target/release/lostlink}" "$here/../../scenarios/club-field.toml" ${2:+"$2"}
