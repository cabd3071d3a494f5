#!/usr/bin/env bash
# Makes docs/report.png, the picture in the README, from the report of the default ride.
# Needs Chromium (Debian: apt-get update; apt-get install -y chromium).
# Usage: docs/picture.sh [REPORT.html]
set -euo pipefail
cd "$(dirname "$0")/.."

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

report=${1:-}
if [ -z "$report" ]; then
    cargo run --release --locked -- ride --quiet --out "$work/ride"
    report=$work/ride/report.html
fi

# Only the heading, the summary and the first two figures are shown.
hide='<style>nav, dl.ridden, #plots > h2, section:not(#verdict, #plots),
figure:not(#acceleration, #roughest), footer { display: none !important }
#verdict { margin-bottom: 1.5em }</style>'
grep -q 'id="roughest"' "$report" || { echo "$report: expected a ride report" >&2; exit 2; }
awk -v hide="$hide" '{ sub("</head>", hide "</head>"); print }' "$report" > "$work/page.html"

chromium --headless --no-sandbox --disable-gpu --no-first-run \
    --disable-background-networking --disable-sync --hide-scrollbars \
    --user-data-dir="$work/profile" --window-size=1000,1910 --force-device-scale-factor=0.85 \
    --screenshot="$work/report.png" "file://$work/page.html"
size=$(stat -c %s "$work/report.png")
if [ "$size" -ge 300000 ]; then
    echo "the picture has $size bytes: keep it below 300000" >&2
    exit 1
fi
cp "$work/report.png" docs/report.png
echo "docs/report.png: $size bytes"
