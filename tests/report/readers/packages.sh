#!/bin/sh
# packages.sh NPM SOURCE FOLDER: the packages of package-lock.json, once while it does not change.
set -eu
mkdir -p "$3"
cp "$2"/package.json "$2"/package-lock.json "$2"/*.mjs "$3"
cd "$3"
cmp -s package-lock.json packages.stamp || {
  "$1" ci --no-audit --no-fund --ignore-scripts --loglevel=error
  cp package-lock.json packages.stamp
}
