#!/bin/sh
# Opens and plays the pages that `cargo test --test outputs` wrote, and works the live page of the program ($LOSTLINK, else the release
# build). Does nothing, and says so, where node or Chromium is missing.
#   tests/browser/run.sh [FOLDER [PICTURES]]
#   tests/browser/run.sh --fetch    only fetches what the scripts need
set -eu
here=$(cd "$(dirname "$0")" && pwd)
folder=${1:-"$here/../../target/tmp/pages"}
browser=${CHROMIUM:-/usr/bin/chromium}
if ! command -v node >/dev/null || ! command -v npm >/dev/null || [ ! -x "$browser" ]; then
    echo "browser test left out: it needs node, npm and Chromium ($browser)"
    exit 0
fi
[ -d "$here/node_modules/playwright-core" ] || (cd "$here" && npm ci --no-audit --no-fund)
[ "${1:-}" != --fetch ] || exit 0
export CHROMIUM="$browser"
# Two lanes, one for each core: the first reads every page, the second works the ones that move.
played=$(mktemp)
trap 'rm -f "$played"' EXIT
{
    node "$here/player.mjs" "$folder" &&
        node "$here/lesson.mjs" "$folder" &&
        node "$here/live.mjs" "${LOSTLINK:-$here/../../target/release/lostlink}" "$here/../../scenarios/club-field.toml" ${2:+"$2"}
} >"$played" 2>&1 &
lane=$!
read=0
node "$here/check.mjs" "$folder" ${2:+"$2"} || read=1
wait "$lane" || read=1
cat "$played"
exit "$read"
