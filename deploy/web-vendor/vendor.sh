#!/usr/bin/env bash
# Copy the locked browser scripts into the package, or with --check compare what lies there with the lock.
# Needs npm; run only when package.json changes. Installing and running Wickwatch needs no Node.
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
target=$here/../../services/wickwatch/web/static/vendor
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cp "$here"/package.json "$here"/package-lock.json "$here"/.npmrc "$work"/
(cd "$work" && npm ci --silent)
mkdir -p "$work/out"
cp "$work"/node_modules/uplot/dist/uPlot.iife.min.js "$work"/node_modules/uplot/dist/uPlot.min.css "$work/out/"
cp "$work"/node_modules/uplot/LICENSE "$work/out/uPlot.LICENSE"
if [ "${1:-}" = --check ]; then
    diff -r "$work/out" "$target" && echo "vendored scripts match the lock"
else
    mkdir -p "$target"
    cp "$work"/out/* "$target"/
    ls -l "$target"
fi
